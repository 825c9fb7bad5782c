grade tests/cli/scenes/astray.json --shot "1 aisle" --at "back door"
