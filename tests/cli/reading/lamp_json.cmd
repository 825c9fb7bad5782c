reading tests/cli/reading/lamp.json --json
