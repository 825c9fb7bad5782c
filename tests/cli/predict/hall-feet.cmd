predict tests/cli/scenes/hall.json --units ft --shot "2 thin"
