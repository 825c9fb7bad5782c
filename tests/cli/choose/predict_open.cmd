predict tests/cli/choose/day.json --shot '2 torch'
