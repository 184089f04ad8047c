"""Heating the sheet, carrying it to the buck, and cooling it there."""
