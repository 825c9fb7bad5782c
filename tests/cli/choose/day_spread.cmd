choose tests/cli/choose/day.json --spread --samples 32
