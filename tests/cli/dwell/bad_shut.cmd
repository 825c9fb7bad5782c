dwell tests/cli/scenes/shut.json
