grade tests/cli/grade/hall.json --shot nowhere
