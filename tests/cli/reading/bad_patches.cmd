reading --distance 8 --clear 80 --hazed 66,9
