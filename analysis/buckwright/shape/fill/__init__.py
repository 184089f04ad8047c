"""Draft fill: places that the sheet could not release from are filled."""
