fluid tests/cli/fluid/measured.json --json --nm 550
