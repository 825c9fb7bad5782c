fluid glycerol --nm 900 --json
