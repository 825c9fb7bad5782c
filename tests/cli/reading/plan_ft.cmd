reading tests/cli/reading/plan.json --units ft
