reading --distance 8 --clear 80,2.4 --hazed 66,9.1 --write x.json
