choose tests/cli/choose/too_uncertain.json --spread
