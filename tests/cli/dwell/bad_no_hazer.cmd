dwell tests/cli/dwell/bad_no_hazer.json
