grade tests/cli/grade/hall.json --shot "3 open"
