"""What the process does that a first run has beside it: the same command on a ball (see `rehearsal`)."""

import json
import os
import threading
import time

from manifold3d import Manifold

from buckwright.job import Job
from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.reading import sculpt_of
from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.run import run
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.survey.sideways import sideways_mm
from buckwright.survey.undercut import find_trapped

__all__ = ["main"]

_RADIUS_MM = 12.0
_LOOK_UP_S = 0.5


def main(command: str, settings: str) -> None:
    """Rehearse a command; returns when it is done.

    Parameters
    ----------
    command : name of one of `COMMANDS`
    settings : JSON, tables of settings
    """
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    ball = _ball()
    _go_ahead(ball)
    run(command, Job(**json.loads(settings)).with_sculpt(sculpt_of(ball, unit="mm")), pictures=False)


def _go_ahead(ball: Mesh) -> None:
    """Compile what a survey needs while the run itself compiles what comes first, the door."""
    columns, relief = Columns(ball), relief_of(ball, pixel_mm=_RADIUS_MM / 10.0)
    sideways_mm(ball, find_trapped(ball, columns), columns, relief)


def _end_with(parent: int) -> None:
    """End this process when the one that it helps has gone."""
    while os.getppid() == parent:
        time.sleep(_LOOK_UP_S)
    os._exit(0)


def _ball() -> Mesh:
    """A ball with an equator of its own, so that there is something to fill, to seal and to vent."""
    dent = Manifold.sphere(_RADIUS_MM / 4.0, 24).translate((0.0, 0.0, _RADIUS_MM))
    return from_manifold(Manifold.sphere(_RADIUS_MM, 32) - dent)
