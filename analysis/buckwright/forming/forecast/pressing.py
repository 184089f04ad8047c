"""The pressing: the air leaves, and the pressure difference presses the sheet on."""

import math

from buckwright.forming.forecast.finer_run import finer
from buckwright.forming.forecast.sheet_run import SheetRun, longest

__all__ = ["MOST_LEVELS", "evacuate"]

MOST_LEVELS = 4
"""Times that a triangle may be split."""
_NEAR = math.sqrt(
    2.0
)  # times the finest cell: the last halving is made where it brings the cell nearer to it
_SPLIT_SHARE = 0.6  # of the number of nodes at first: so many free ones, and what is free is split

_LAST_REST = 0.02
_PRESSURE_STEP = 0.05  # largest relative growth of the pressure at one load
_FIRST_EASE, _EASE_GROWTH = 1 / 8, 1.3  # share of the step as evacuation begins, its growth per load
_FIRST_PRESSURE = 0.01  # and the smallest pressure step ever made, over the final pressure
# How many times as much as at the load before the pressure may rise. Just factored, the stiffness is an upper
# bound that nothing corrects yet: one such rise was five times as large as the others, and rings landed that
# had not stretched. A hemisphere on 5,000 nodes in twelve attitudes, against rings: up to 1.3 % (RMS), four
# over 0.8; with 2.5, 2 and 1.5 up to 0.61, 0.47 and 0.44 %. Below 2.5 given blocks leave a box more web.
_RISE_GROWTH = 2.5


def evacuate(run: SheetRun, most: float, *, finest_mm: float = math.inf) -> SheetRun:
    """Raise the pressure difference, and split what is still free as the sheet lands.

    Parameters
    ----------
    run : the sheet on its way, its frame at rest
    most : final pressure difference over modulus and thickness, 1/mm
    finest_mm : what is free is split until its cells are about as long, as far as the number of levels allows

    Returns
    -------
    SheetRun : the sheet at the end, on its finest net
    """
    run.ease = _FIRST_EASE
    run.cap = run.ease * run.care.step * run.reach_mm
    run.factor()
    run.snapshot()
    if run.vents is not None:
        run.drain(run.vents)
    run.settle(rest=run.care.rest)
    while run.pressure < most and not run.over():
        if _may_split(run, finest_mm):
            run = finer(run)
            run.settle(rest=run.care.rest)
        _press(run, most)
        run.settle(rest=run.care.rest)
        run.give_way(rest=run.care.rest)
        run.ease = min(_EASE_GROWTH * run.ease, 1.0)
        run.cap = run.ease * run.care.step * run.reach_mm
        if run.vents is not None:
            run.drain(run.vents)
        run.share = max(run.share, 1.0 - 0.5 * run.left)
    run.settle(rest=_LAST_REST)
    run.give_way(rest=_LAST_REST)
    return run


def _may_split(run: SheetRun, finest_mm: float) -> bool:
    """Whether so little is free that a finer net costs no more than the first one did."""
    small = 0 < run.free <= _SPLIT_SHARE * run.first
    return small and run.grid.cell_mm > _NEAR * finest_mm and run.level < MOST_LEVELS


def _press(run: SheetRun, most: float) -> None:
    more = run.more()
    reach = longest(run.mixing.corrected(more))
    bound = max(_PRESSURE_STEP * run.pressure, _FIRST_PRESSURE * most)
    bound = min(bound, _RISE_GROWTH * run.rise)
    run.rise = min((1.0 - run.care.rest) * run.cap / reach, bound) if reach > 0.0 else bound
    rise = min(run.rise, most - run.pressure)
    run.pressure += rise
    if run.ready is not None:
        run.ready = run.ready + rise * more
