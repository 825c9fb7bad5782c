cautions tests/cli/cautions/day.json --units ft
