predict tests/cli/scenes/hall.json --json
