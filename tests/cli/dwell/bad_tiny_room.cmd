dwell tests/cli/dwell/bad_tiny_room.json
