"""The forecast of the formed sheet."""
