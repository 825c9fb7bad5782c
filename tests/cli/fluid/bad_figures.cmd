fluid tests/cli/fluid/bad_figures.json
