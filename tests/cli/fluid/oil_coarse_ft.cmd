fluid oil-coarse --units ft
