dwell tests/cli/dwell/before_its_turn.json
