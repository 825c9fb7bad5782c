choose tests/cli/choose/day.json --turn torch --shot '1 wide'
