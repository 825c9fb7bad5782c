dwell --units ft tests/cli/dwell/day.json
