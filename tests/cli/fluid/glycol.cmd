fluid glycol
