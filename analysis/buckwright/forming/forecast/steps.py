"""Quasi-static forming: the frame comes down, then the air leaves; what touches sticks, or slides if asked.

Inertia and heat play no part: at every load the free sheet is brought to rest before the load goes on.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.descent import lower
from buckwright.forming.forecast.formed import FINE, Care, Formed
from buckwright.forming.forecast.going_on import go_on, lowered_sheet
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Law, Reference
from buckwright.forming.forecast.pressing import evacuate
from buckwright.forming.forecast.sheet_grid import SheetGrid
from buckwright.forming.forecast.sheet_run import SheetRun
from buckwright.forming.forecast.sliding import SlidingRun

__all__ = ["form_sheet"]

_NEO_HOOKEAN = Law()
_STEPS_A_CAP = 8.0  # limit of steps over the distance to go in steps; sheets that came to rest needed 1 to 3


def form_sheet(
    grid: SheetGrid,
    ref: Reference,
    ground: LandingSurface,
    *,
    start: NDArray[np.float64],
    frame_to_mm: float,
    pressure_per_mm: float,
    law: Law = _NEO_HOOKEAN,
    care: Care = FINE,
    friction: float | None = None,
    sticks_after_mm: float = math.inf,
    vents_mm: NDArray[np.float64] | None = None,
    finest_mm: float = math.inf,
    most_steps: int | None = None,
    begun: Formed | None = None,
    tick: Callable[[float], None] | None = None,
) -> Formed:
    """Form a sheet over the ground.

    Parameters
    ----------
    grid, ref : the sheet and its stress-free shape
    ground : buck and platen
    start : (N, 3) float64, mm, the sheet at first, above the ground
    frame_to_mm : height at which the frame comes to rest
    pressure_per_mm : final pressure difference over modulus and thickness, 1/mm
    law : of the sheet
    care : how closely it is followed
    friction : Coulomb's coefficient between sheet and ground, >= 0; None: what touches stays where it is
    sticks_after_mm : with friction, way of the frame after which what has touched has chilled and sticks;
        what the air presses on then sticks at once. By default it never does
    vents_mm : (V, 2 or more) float64, mm, where air leaves the buck; regions sealed without a vent then bear
        no pressure and stay bridged. None: air leaves everywhere
    finest_mm : what is still free is split as the sheet lands, until no cell of it is longer than this;
        by default not at all
    most_steps : limit of the number of steps; by default a bound from the distance to go
    begun : a run that differs in nothing but its vents, from whose lowered sheet this one goes on
    tick : called at every step with the share done, 0 to 1

    Returns
    -------
    Formed

    Notes
    -----
    Each step moves the nodes along the response of two factored Laplacians to their forces, corrected by
    Anderson mixing, at most a share of a cell, and stops those that would pass below the ground. The load
    goes on when the next step would be short: the frame by a step's length, the pressure by as much as moves
    the sheet by a step's length, by the same two Laplacians. So the work grows with the distance in cells,
    about the square root of the nodes, times the cost of a solve; measured together as nodes to the 1.4.
    Sticking is irreversible. With friction, what lies on the ground slides along it between the loads, driven
    by the excess of its tangential force over the coefficient times the normal one. The error falls with the
    cell; what it overlooks is detail smaller than a cell.
    """
    kind = SheetRun if friction is None else SlidingRun
    run = kind(grid, ref, ground, law, care, start, tick or (lambda _share: None))
    run.vents = None if vents_mm is None else np.asarray(vents_mm, np.float64)[:, :2]
    way = run.frame_mm - frame_to_mm + float(np.ptp(ground.height)) + float(np.ptp(grid.nodes, axis=0).max())
    run.most_steps = most_steps or math.ceil(_STEPS_A_CAP * way / run.cap)
    if isinstance(run, SlidingRun) and friction is not None:
        run.slides_by(friction, sticks_after_mm)
    run.snapshot()
    # what slides carries more from step to step than is kept
    if begun is None or begun.lowered is None or isinstance(run, SlidingRun):
        lower(run, frame_to_mm)
    else:
        go_on(run, begun, begun.lowered)
    lowered = lowered_sheet(run)
    run = evacuate(run, pressure_per_mm, finest_mm=finest_mm)
    run.snapshot()
    steps, pictures = zip(*run.snapshots, strict=True)
    stopped = ""
    if run.step >= run.most_steps:
        above = run.frame_mm - frame_to_mm
        where = (
            f"with the frame {above:.0f} mm up" if above > 0.0 else f"at {run.pressure / pressure_per_mm:.0%}"
        )
        stopped = f"stopped after {run.step} steps {where}{'' if above > 0.0 else ' of the pressure'}"
    return Formed(
        grid=run.grid,
        rest=run.rest,
        points=run.x,
        state=run.state,
        touched=run.touched,
        turned=run.turned,
        pressure_per_mm=np.array([p for p, _ in run.log]),
        frame_mm=np.array([z for _, z in run.log]),
        snapshots=np.stack(pictures),
        snapshot_steps=np.array(steps),
        forced=run.forced,
        factored=run.factored,
        stopped=stopped,
        slid_to_mm=run.slid_to_mm if isinstance(run, SlidingRun) else None,
        lowered=lowered,
    )
