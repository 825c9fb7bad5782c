reading --distance 8 --clear 80,2.4 --hazed 96,9.1
