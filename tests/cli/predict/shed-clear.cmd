predict tests/cli/scenes/shed-feet.json --extinction 0
