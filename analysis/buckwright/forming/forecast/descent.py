"""The descent: the frame comes down over the buck, and the sheet with it."""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.sheet_run import SheetRun, longest

__all__ = ["lower"]

_FIRST_FALL = 1 / 32  # of a step: the flat sheet is slack, so the frame begins gently
_FALL_GROWTH = 0.1  # and then falls each time by this share of its way so far


def lower(run: SheetRun, to_mm: float) -> None:
    """Lower the frame; only its own nodes move with it.

    Parameters
    ----------
    run : the sheet on its way
    to_mm : height at which the frame comes to rest
    """
    start = run.frame_mm
    last: tuple[NDArray[np.float64], float] | None = None
    run.factor()
    while run.frame_mm > to_mm + 1e-9 * run.cap and not run.over():
        by = min(max(_FIRST_FALL, _FALL_GROWTH * (start - run.frame_mm) / run.cap), 1.0) * run.cap
        by = min(by, run.frame_mm - to_mm)
        run.gather()
        before = run.x[:, 2].copy()
        run.frame_mm -= by
        run.x[run.grid.clamped, 2] -= by
        run.loose.x[run.grid.clamped[run.loose.near], 2] -= by
        run.ready = None
        if last is not None:
            # continue downwards as before; in its own plane a slack sheet has no motion worth continuing
            ahead = np.zeros_like(run.loose.moving)
            ahead[:, 2] = (by / last[1]) * last[0][run.loose.nodes] * run.loose.live
            run.move(ahead * min(1.0, run.cap / max(longest(ahead), 1e-300)))
        run.settle(rest=run.care.calm * by / run.cap)
        run.give_way(rest=run.care.calm * by / run.cap)
        run.gather()
        last = run.x[:, 2] - before, by
        run.share = 0.5 * (start - run.frame_mm) / (start - to_mm)
    run.share = 0.5
