fluid xyz
