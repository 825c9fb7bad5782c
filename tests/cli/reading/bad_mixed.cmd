reading tests/cli/reading/decay.json --distance 8
