reading tests/cli/reading/unseen.json
