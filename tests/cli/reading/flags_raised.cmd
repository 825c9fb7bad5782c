reading --distance 8 --clear 80,2.4 --hazed 200,9.1
