choose tests/cli/choose/day.json --turn moon
