reading tests/cli/reading/plan.json --as decay
