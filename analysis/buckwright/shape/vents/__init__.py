"""Where air leaves, and the bores for it."""
