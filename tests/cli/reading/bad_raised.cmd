reading tests/cli/reading/raised.json
