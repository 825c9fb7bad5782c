predict tests/cli/scenes/far_lamp.json --json
