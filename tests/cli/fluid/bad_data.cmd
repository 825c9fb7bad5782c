fluid glycol --data nowhere
