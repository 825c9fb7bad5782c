dwell tests/cli/dwell/bad_unreachable.json
