"""The one pipeline: only here is the order of the rooms known.

Its commands are loaded when they are asked for: a look needs neither vents nor the physics of the sheet, and
a program that waits for it should not wait for those.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buckwright.make.clock import Progress
    from buckwright.make.forecasting import forecast, forecast_on
    from buckwright.make.outcome import Outcome
    from buckwright.make.pipeline import make
    from buckwright.make.sighting import look

__all__ = ["Outcome", "Progress", "forecast", "forecast_on", "look", "make"]

_HOMES = {
    "Outcome": "outcome",
    "Progress": "clock",
    "forecast": "forecasting",
    "forecast_on": "forecasting",
    "look": "sighting",
    "make": "pipeline",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
