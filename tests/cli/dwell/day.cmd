dwell tests/cli/dwell/day.json
