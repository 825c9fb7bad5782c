dwell tests/cli/dwell/out_of_reach.json
