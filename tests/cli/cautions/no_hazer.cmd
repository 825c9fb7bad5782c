cautions tests/cli/cautions/no_hazer.json
