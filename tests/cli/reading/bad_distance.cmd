reading --distance far --clear 80,2 --hazed 66,9
