reading tests/cli/reading/single.json
