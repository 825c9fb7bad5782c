dwell tests/cli/dwell/bad_volume_and_minutes.json
