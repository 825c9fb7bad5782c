fluid tests/cli/fluid/bad_dispersion.json --nm 2000
