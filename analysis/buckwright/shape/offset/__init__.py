"""The sculpt offset inwards by the thickness of the sheet."""
