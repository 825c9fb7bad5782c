dwell tests/cli/dwell/open_density.json
