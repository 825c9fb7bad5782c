reading tests/cli/reading/plan.json --json
