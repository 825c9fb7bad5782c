reading 
