dwell tests/cli/dwell/bad_open_density.json
