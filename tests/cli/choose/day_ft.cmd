choose tests/cli/choose/day.json --units ft --shot '2 torch'
