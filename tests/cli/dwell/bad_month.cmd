dwell tests/cli/dwell/bad_month.json
