predict tests/cli/scenes/shut.json
