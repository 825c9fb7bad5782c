grade tests/cli/grade/hall.json --shot "2 video" --recover 1.5
