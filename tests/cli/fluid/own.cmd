fluid brewery --data tests/cli/fluid/own
