cautions tests/cli/cautions/open.json
