fluid tests/cli/fluid/measured.json
