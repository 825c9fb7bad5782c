dwell tests/cli/scenes/centimetres.json
