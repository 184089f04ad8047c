"""A fresh survey of the buck: whether the part releases from it."""
