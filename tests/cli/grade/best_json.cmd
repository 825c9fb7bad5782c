grade tests/cli/grade/hall.json --shot "1 log" --best --json
