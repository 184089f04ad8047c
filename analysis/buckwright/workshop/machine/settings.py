"""Settings of the machine."""

import attrs

from buckwright.settings import choice
from buckwright.workshop.machine.figures import MachineFigures
from buckwright.workshop.machine.own import hint, known_machines

__all__ = ["MachineSettings"]

_WORDS = {name: (name.replace("_", " ").title(), one.title) for name, one in known_machines().items()}


@attrs.frozen(kw_only=True)
class MachineSettings(MachineFigures):
    """Machine: which one forms the sheet. It gives whatever of it you leave out, here and in other tables."""

    profile: str | None = choice(
        None,
        _WORDS,
        label="Machine",
        tip="The forming machine; platen, frame, clamp, heater and vacuum that are left out follow from it",
        automatic="no machine",
        front=True,
        preset="machine",
        more=hint,
    )
