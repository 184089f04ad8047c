"""The pull and the depth of sinking: as the settings give them, or the setup that the search offers."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.clock import Clock
from buckwright.errors import InputError
from buckwright.findings import counted
from buckwright.mesh.triangles import Mesh
from buckwright.pose.settings import PullSettings
from buckwright.pose.setups.search import Setup, find_setups, setups_along

__all__ = ["Aim", "aim"]

_AXES = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1), "-x": (-1, 0, 0), "-y": (0, -1, 0), "-z": (0, 0, -1)}


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """Which way the part leaves the buck, and how deep the sculpt is sunk.

    Attributes
    ----------
    direction : (3,) float64, unit vector in the sculpt's own axes
    sink_mm : how much is cut off below, mm of the sculpt, or 'widest': down to the widest outline
    setups : what there is to choose from, the best first; of a direction that was given only its depths
    taken : number of the setup that was taken, from 1; 0 where there is none
    searched : whether the direction was searched for
    """

    direction: NDArray[np.float64]
    sink_mm: float | str
    setups: tuple[Setup, ...]
    taken: int
    searched: bool


def aim(mesh: Mesh, pull: PullSettings, sink_mm: float | str, draft_deg: float, clock: Clock) -> Aim:
    """Take the direction that is given, or search for a setup.

    Parameters
    ----------
    mesh : the sculpt in its own axes, mm
    pull : settings
    sink_mm : how far the sculpt is to be sunk, mm, 'widest', or 'auto'
    draft_deg : wanted draft
    clock : progress is told to it

    Raises
    ------
    InputError
        There is no setup of the number that is asked for, or nothing to search.
    Cancelled
        The user asked to stop.
    """
    wanted = pull.direction
    if wanted == "search":
        setups = find_setups(
            mesh,
            draft_deg=draft_deg,
            sink_mm=sink_mm,
            cone_deg=pull.cone_deg,
            about=pull.about,
            directions=pull.directions,
            tick=clock.tick,
        )
        taken = _taken(setups, pull.setup)
        return Aim(np.array(taken.direction), _depth(taken, sink_mm), setups, pull.setup, searched=True)
    vector = np.array(_AXES[wanted] if isinstance(wanted, str) else wanted, np.float64)
    vector /= np.linalg.norm(vector)
    if sink_mm != "auto":
        return Aim(vector, sink_mm, (), 0, searched=False)
    setups = setups_along(mesh, vector, draft_deg=draft_deg)
    taken = _taken(setups, pull.setup)
    return Aim(vector, _depth(taken, sink_mm), setups, pull.setup, searched=False)


def _taken(setups: tuple[Setup, ...], number: int) -> Setup:
    if number > len(setups):
        there = f"there {'is' if len(setups) == 1 else 'are'} only {counted(len(setups), 'setup')}"
        raise InputError(f"there is no setup {number}: {there} to choose from")
    return setups[number - 1]


def _depth(setup: Setup, sink_mm: float | str) -> float | str:
    """The depth as it was given; only where it was left open, that of the setup."""
    return setup.figures.sink_mm if sink_mm == "auto" else sink_mm
