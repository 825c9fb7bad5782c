choose tests/cli/scenes/far_lamp.json
