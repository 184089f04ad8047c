"""What stands round the buck on the bench: lines in the buck's own frame, for a program that shows them."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buckwright.output.flat.drawing import Line, box, rounded_box
from buckwright.workshop.rig.planning import RigPlan

__all__ = ["BENCH", "bench_lines", "bench_places"]

type Lines = dict[str, NDArray[np.float64]]

BENCH = ("platen", "machine", "opening", "blank", "frame_inside", "frame_outside")
"""Names of the lines, each of which may be missing."""


def bench_lines(
    rig: RigPlan,
    *,
    corner_mm: float,
    platen_mm: tuple[float, float] | None,
    machine_mm: tuple[float, float] | None,
    round_one: bool,
) -> Lines:
    """Outlines round the middle of the opening.

    Parameters
    ----------
    rig : opening and blank
    corner_mm : radius of the opening's corners; counts with a reducing set
    platen_mm, machine_mm : width and depth of the platen and of the machine's own frame, lying as the
        opening does; None where they are not known
    round_one : whether both are round

    Returns
    -------
    dict of (N, 3) float64, mm : by name; what lies on the platen at z = 0, the rest in the clamp plane
    """
    around = max(rig.opening_mm) if round_one else 0.0
    corner = corner_mm if rig.reduction is not None else around
    made = {
        "opening": _raised(rounded_box("reference", *rig.opening_mm, corner), rig.dead_mm),
        "blank": _raised(box("reference", *rig.blank_mm), rig.dead_mm),
    }
    for name, size in (("platen", platen_mm), ("machine", machine_mm)):
        if size is not None:
            made[name] = _raised(rounded_box("reference", *size, max(size) if round_one else 0.0), 0.0)
    if rig.reduction is not None:
        frame = rig.reduction.frame
        inside = rounded_box("reference", *frame.inside_mm, corner_mm)
        made["frame_inside"] = _raised(inside, rig.dead_mm)
        made["frame_outside"] = _raised(box("reference", *frame.outside_mm), rig.dead_mm)
    return made


def _raised(line: Line, z_mm: float) -> NDArray[np.float64]:
    return np.column_stack([line.points, np.full(len(line.points), z_mm)])


def bench_places(
    places: Sequence[tuple[float, float, bool]], middle: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Matrices from the opening and from further copies to the frame of the first buck.

    Parameters
    ----------
    places : of all copies round the middle of the opening, mm, and whether they are turned by a quarter
    middle : (2,) of the base of the buck in its own frame, mm

    Returns
    -------
    (1 + K, 4, 4) float64 : for the lines, then for each further copy of K
    """
    made = [_placed(*place) for place in places]
    # points around the middle of a base <- points of the buck's frame
    centred = np.eye(4)
    centred[:2, 3] = -np.asarray(middle, np.float64)
    first = np.linalg.inv(made[0] @ centred)
    return np.array([first, *(first @ one @ centred for one in made[1:])])


def _placed(x: float, y: float, turned: bool) -> NDArray[np.float64]:
    matrix = np.eye(4)
    if turned:
        matrix[:2, :2] = [[0.0, -1.0], [1.0, 0.0]]
    matrix[:2, 3] = x, y
    return matrix
