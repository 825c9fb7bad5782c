cautions tests/cli/cautions/clear.json
