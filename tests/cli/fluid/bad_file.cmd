fluid tests/cli/fluid/none.json
