fluid unsourced --data tests/cli/fluid/own
