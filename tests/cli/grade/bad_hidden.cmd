grade tests/cli/grade/hall.json --shot "1 log" --at "prop behind the solid"
