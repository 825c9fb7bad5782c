grade tests/cli/grade/hall.json --at face
