"""Links: the ways to carry one block read to a meter and its answer back."""
