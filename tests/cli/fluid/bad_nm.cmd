fluid glycol --nm 100
