"""Buckwright: from a sculpt to a ready-to-print buck for vacuum forming."""

__version__ = "0.1.0"
