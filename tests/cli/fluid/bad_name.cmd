fluid glycl
