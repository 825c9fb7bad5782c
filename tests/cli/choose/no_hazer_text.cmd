choose tests/cli/choose/no_hazer.json
