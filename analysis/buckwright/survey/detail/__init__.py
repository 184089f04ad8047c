"""Detail that the sheet does not reproduce, and edges that it should not be asked to."""
