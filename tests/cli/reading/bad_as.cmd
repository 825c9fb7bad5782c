reading tests/cli/reading/decay.json --as plan
