reading --distance "8 m" --clear 80,2.4 --hazed 66,9.1
