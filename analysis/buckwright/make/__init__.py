"""The one pipeline: only here is the order of the rooms known."""

from buckwright.make.clock import Progress
from buckwright.make.forecasting import forecast, forecast_on
from buckwright.make.outcome import Outcome
from buckwright.make.pipeline import look, make

__all__ = ["Outcome", "Progress", "forecast", "forecast_on", "look", "make"]
