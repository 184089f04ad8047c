"""The sculpt drawn in for the thickness of the sheet."""
