choose tests/cli/choose/no_hazer.json --json --spread --samples 16
