choose tests/cli/choose/conflict.json --spread
