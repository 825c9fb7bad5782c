reading --distance 26ft --lit-from 2 --clear 60,12 --hazed 55,18 --curve bt709 --units ft
