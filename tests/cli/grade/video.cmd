grade tests/cli/grade/hall.json --shot "2 video"
