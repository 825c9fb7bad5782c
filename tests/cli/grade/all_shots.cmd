grade tests/cli/grade/hall.json 
