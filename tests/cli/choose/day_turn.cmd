choose tests/cli/choose/day.json --turn key --shot '1 wide'
