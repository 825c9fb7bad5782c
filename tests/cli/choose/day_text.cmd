choose tests/cli/choose/day.json
