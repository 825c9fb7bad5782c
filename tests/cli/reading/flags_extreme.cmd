reading --distance 8 --clear 1e155,2.4 --hazed 1e155,2.4
