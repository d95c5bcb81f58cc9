"""Second, slow engines that share no formula with the package; tests compare the two."""
