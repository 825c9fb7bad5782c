choose tests/cli/choose/day.json --spread --samples 32 --shot '2 torch' --turn torch --json
