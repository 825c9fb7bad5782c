dwell tests/cli/dwell/no_hazer.json
