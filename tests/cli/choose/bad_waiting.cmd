choose tests/cli/choose/waiting.json
