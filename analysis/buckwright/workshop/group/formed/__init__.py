"""The forecast of the sheet over a whole group."""
