"""The air under the sheet."""
