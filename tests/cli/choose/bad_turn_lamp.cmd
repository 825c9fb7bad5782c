choose tests/cli/choose/day.json --turn bulb
