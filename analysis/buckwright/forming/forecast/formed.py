"""States of the nodes, how closely a sheet is followed, and what forming gives."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.sheet_grid import SheetGrid

__all__ = [
    "CLAMPED",
    "FINE",
    "FOLDED",
    "FREE",
    "LANDED",
    "MOST_DRAWN",
    "OVERDRAWN",
    "PREVIEW",
    "Care",
    "Formed",
    "Lowered",
]

FREE, CLAMPED, LANDED, FOLDED, OVERDRAWN = 0, 1, 2, 3, 4

# A sheet thinner than one part in this many tears or is useless; a neo-Hookean one, which has a limit
# pressure, would stretch for ever (judgement).
MOST_DRAWN = 25.0


@dataclass(frozen=True, slots=True)
class Care:
    """How closely the sheet is followed.

    Attributes
    ----------
    fall, step : largest movement in one step, over the cell, while the frame comes down and while the air is
        evacuated. Beyond 20,000 nodes the latter shrinks as the root of the cell; it begins smaller
    calm, rest : the load goes on when the next step would be shorter than this share of it. On a ball on a
        stem, on 2,500 nodes, 0.1 and 0.15 leave 2.1 % (RMS) instead of 1.95, and save a tenth of the time
    factor : share of the free nodes that may land before the stiffness is factored anew. On a hemisphere 0.15
        instead of 0.05 costs half as much again of the 95th percentile against rings, and a preview of a cone
        scatters more than its vacuum changes it; 0.1 saves most of the time
    height_share : of the answer in height that the preconditioner takes: where the stiffnesses in plan and in
        height are unlike, all of it overshoots, and what lands does not come back. On a hemisphere, against
        rings, 1, 0.8 and 0.6 leave 0.53, 0.43 and 0.43 % (RMS, mean of three nets), a factor of its own
        0.50 %; on a ball on a stem less leaves more
    """

    fall: float = 0.35
    step: float = 0.35
    calm: float = 0.07
    rest: float = 0.1
    factor: float = 0.05
    height_share: float = 0.8


FINE = Care()
PREVIEW = Care(fall=0.5, step=0.5, calm=0.2, rest=0.3, factor=0.1, height_share=0.7)


@dataclass(frozen=True, slots=True, eq=False)
class Lowered:
    """The sheet when its frame is down and no air has left yet: until here vents make no difference.

    Attributes
    ----------
    points, state, touched, turned : as in `Formed`, of the first net
    steps, pictures : number of steps and of snapshots until then
    free : number of free nodes at the last of these snapshots
    forced, factored : as in `Formed`
    """

    points: NDArray[np.float64]
    state: NDArray[np.int8]
    touched: NDArray[np.float64]
    turned: NDArray[np.bool_]
    steps: int
    pictures: int
    free: int
    forced: int
    factored: int


@dataclass(frozen=True, slots=True, eq=False)
class Formed:
    """The sheet when it has come to rest.

    Attributes
    ----------
    grid : the sheet, with the nodes that were added on the way
    rest : (N, 3) float64, mm, the same nodes in the stress-free sheet
    points : (N, 3) float64, mm
    state : (N,) int8; 0 free, 1 clamped, 2 landed, 3 frozen in a fold, 4 frozen as overdrawn
    touched : (N,) float64, step at which each node landed (with its share of the step); inf where it never
        did, -1 in the frame
    turned : (T,) bool, triangles that turned over
    pressure_per_mm, frame_mm : (K,) float64, pressure over modulus and thickness, and height of the frame, by
        step
    snapshots : (S, N, 3) float32, mm, the sheet on its way; snapshot_steps (S,) int64, the steps
    forced, factored : number of loads without rest, and of factorisations of the stiffness
    stopped : why the run ended early, in words; empty when it did not
    slid_to_mm : height of the frame at which a sliding sheet had used up its steps and stuck, or None
    lowered : the sheet before any air left; None where no frame came down
    """

    grid: SheetGrid
    rest: NDArray[np.float64]
    points: NDArray[np.float64]
    state: NDArray[np.int8]
    touched: NDArray[np.float64]
    turned: NDArray[np.bool_]
    pressure_per_mm: NDArray[np.float64]
    frame_mm: NDArray[np.float64]
    snapshots: NDArray[np.float32]
    snapshot_steps: NDArray[np.int64]
    forced: int
    factored: int
    stopped: str
    slid_to_mm: float | None = None
    lowered: Lowered | None = None
