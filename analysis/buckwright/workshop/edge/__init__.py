"""The edge of the part: where it is cut, what is folded or pushed over it, and holes near it."""
