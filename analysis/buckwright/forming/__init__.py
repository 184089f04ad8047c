"""The forming room: sheet materials and the air under the sheet."""
