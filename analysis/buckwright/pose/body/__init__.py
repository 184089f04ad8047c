"""The body that the part is worn on or set over: read, placed, and grown to."""
