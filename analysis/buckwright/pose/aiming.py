"""The pull: as the settings give it, or searched for."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.clock import Clock
from buckwright.mesh.triangles import Mesh
from buckwright.pose.settings import PullSettings
from buckwright.survey.pull import PullSearch, search_pull

__all__ = ["Aim", "aim"]

_AXES = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1), "-x": (-1, 0, 0), "-y": (0, -1, 0), "-z": (0, 0, -1)}


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """Which way the part leaves the buck.

    Attributes
    ----------
    direction : (3,) float64, unit vector in the sculpt's own axes
    search : what the search found; None where the direction was given
    """

    direction: NDArray[np.float64]
    search: PullSearch | None


def aim(mesh: Mesh, pull: PullSettings, sink_mm: float | str, clock: Clock) -> Aim:
    """Take the direction that is given, or search for one.

    Parameters
    ----------
    mesh : the sculpt in its own axes, mm
    pull : settings
    sink_mm : how far the sculpt will be sunk, mm, or 'widest'; the search then leaves nothing out
    clock : progress is told to it

    Raises
    ------
    Cancelled
        The user asked to stop.
    """
    wanted = pull.direction
    if wanted == "search":
        sink = 0.0 if isinstance(sink_mm, str) else float(sink_mm)
        search = search_pull(
            mesh,
            cone_deg=pull.cone_deg,
            about=pull.about,
            directions=pull.directions,
            sink_mm=sink,
            tick=clock.tick,
        )
        return Aim(np.asarray(search.direction, np.float64), search)
    vector = np.array(_AXES[wanted] if isinstance(wanted, str) else wanted, np.float64)
    return Aim(vector / np.linalg.norm(vector), None)
