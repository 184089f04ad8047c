"""Draft fill: what the sheet cannot leave is filled."""
