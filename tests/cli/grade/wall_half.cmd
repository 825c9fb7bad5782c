grade tests/cli/grade/hall.json --shot "1 log" --at "back wall" --recover 0.5 --json
