reading tests/cli/reading/decay.json
