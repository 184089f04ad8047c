"""The command line."""

from buckwright.cli.command import main

__all__ = ["main"]
