reading tests/cli/reading/single.json --write never.json
