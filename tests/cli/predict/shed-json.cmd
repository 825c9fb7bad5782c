predict tests/cli/scenes/shed-feet.json --json
