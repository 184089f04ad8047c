"""The workshop: frame and blank, how stock is cut, and templates at 1:1."""
