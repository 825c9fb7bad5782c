fluid tests/cli/fluid/bad_syntax.json
