cautions tests/cli/cautions/bad_open.json
