reading tests/cli/reading/clipped.json
