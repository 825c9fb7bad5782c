choose tests/cli/choose/conflict.json --json
