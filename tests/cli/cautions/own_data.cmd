cautions tests/cli/cautions/no_hazer.json --data tests/cli/cautions/own
