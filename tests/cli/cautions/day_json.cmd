cautions tests/cli/cautions/day.json --json
