"""The one pipeline: only here is the order of the rooms known."""

from buckwright.make.clock import Progress
from buckwright.make.pipeline import Outcome, look, make

__all__ = ["Outcome", "Progress", "look", "make"]
