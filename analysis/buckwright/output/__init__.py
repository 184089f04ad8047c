"""The output room: files and pictures."""
