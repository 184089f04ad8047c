"""The pull and the depth of sinking: as the settings give them, or the setup that the search offers."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.clock import Clock
from buckwright.errors import InputError
from buckwright.findings import counted
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.images import setup_images
from buckwright.pose.setups.proxy import simplified
from buckwright.pose.setups.search import Setup, find_setups, setups_along

__all__ = ["AXIS_VECTORS", "Aim", "Offer", "aim", "offer"]

AXIS_VECTORS = {
    "x": (1, 0, 0),
    "y": (0, 1, 0),
    "z": (0, 0, 1),
    "-x": (-1, 0, 0),
    "-y": (0, -1, 0),
    "-z": (0, 0, -1),
}
"""Directions by the words that settings use."""


@dataclass(frozen=True, slots=True, eq=False)
class Offer:
    """What there is to choose from.

    Attributes
    ----------
    direction : (3,) float64, unit vector in the sculpt's own axes; None where it is searched for
    setups : the best first; of a direction that was given only its depths, none if the depth was given too
    images : (N, 256, 256, 4) uint8, a small picture of each, see `setup_images`
    shape : the sculpt, simplified, from which they are drawn; empty where there are no setups
    """

    direction: NDArray[np.float64] | None
    setups: tuple[Setup, ...]
    images: NDArray[np.uint8]
    shape: Mesh


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """Which way the part leaves the buck, and how deep the sculpt is sunk.

    Attributes
    ----------
    direction : (3,) float64, unit vector in the sculpt's own axes
    sink_mm : how much is cut off below, mm of the sculpt, or 'widest': down to the widest outline
    setups : what there is to choose from, the best first
    taken : number of the setup that was taken, from 1; 0 where there is none
    searched : whether the direction was searched for
    """

    direction: NDArray[np.float64]
    sink_mm: float | str
    setups: tuple[Setup, ...]
    taken: int
    searched: bool


def offer(
    mesh: Mesh,
    *,
    direction: str | tuple[float, float, float],
    about: tuple[float, float, float],
    cone_deg: float,
    directions: int,
    sink_mm: float | str,
    draft_deg: float,
    clock: Clock,
) -> Offer:
    """Find the setups to choose from.

    Parameters
    ----------
    mesh : the sculpt in its own axes, mm
    direction, about, cone_deg, directions : of the table [pull]
    sink_mm : how far the sculpt is to be sunk, mm, 'widest', or 'auto'
    draft_deg : wanted draft
    clock : progress is told to it

    Raises
    ------
    InputError
        There is nothing to search.
    Cancelled
        The user asked to stop.
    """
    vector: NDArray[np.float64] | None = None
    setups: tuple[Setup, ...] = ()
    if direction == "search":
        setups = find_setups(
            mesh,
            draft_deg=draft_deg,
            sink_mm=sink_mm,
            cone_deg=cone_deg,
            about=about,
            directions=directions,
            tick=clock.tick,
        )
    else:
        vector = np.array(AXIS_VECTORS[direction] if isinstance(direction, str) else direction, np.float64)
        vector /= np.linalg.norm(vector)
        if sink_mm == "auto":
            setups = setups_along(mesh, vector, draft_deg=draft_deg)
    shape = simplified(mesh) if setups else Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    return Offer(vector, setups, setup_images(shape, setups), shape)


def aim(offered: Offer, number: int, sink_mm: float | str) -> Aim:
    """Take a setup, or the direction that is given.

    Parameters
    ----------
    offered : what there is to choose from
    number : of the setup, from 1
    sink_mm : how far the sculpt is to be sunk, mm, 'widest', or 'auto'

    Raises
    ------
    InputError
        There is no setup of the number that is asked for.
    """
    searched = offered.direction is None
    if not offered.setups:
        assert offered.direction is not None
        return Aim(offered.direction, sink_mm, (), 0, searched=False)
    taken = _taken(offered.setups, number)
    direction = np.array(taken.direction) if offered.direction is None else offered.direction
    # only where the depth was left open it is that of the setup
    depth = taken.figures.sink_mm if sink_mm == "auto" else sink_mm
    return Aim(direction, depth, offered.setups, number, searched=searched)


def _taken(setups: tuple[Setup, ...], number: int) -> Setup:
    if number > len(setups):
        there = f"there {'is' if len(setups) == 1 else 'are'} only {counted(len(setups), 'setup')}"
        raise InputError(
            f"there is no setup {number}: {there} to choose from; set pull.setup back to 1 (--pull-setup 1)"
        )
    return setups[number - 1]
