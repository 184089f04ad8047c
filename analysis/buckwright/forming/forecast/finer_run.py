"""The same sheet on a finer net: what is still free is split, at the load reached."""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.formed import CLAMPED, FOLDED, FREE, LANDED, OVERDRAWN
from buckwright.forming.forecast.membrane import reference, stretches
from buckwright.forming.forecast.sheet_grid import SheetGrid
from buckwright.forming.forecast.sheet_run import SheetRun
from buckwright.forming.forecast.splitting import Split, split_triangles

__all__ = ["finer"]

_TOUCHES = 0.02  # of a cell: nearer to the ground the middle of a side whose ends lie on it lies there too
# Width over that of a strip pulled lengthwise: a narrower triangle lies in a web, and would only fold finer.
_TAUT = 0.8
_PUSHES = 6  # rounds of pushing new nodes out of the ground along its normal
_CLEAR = 1.05  # of the way out
_EASE = 0.5  # share of the step with which the finer sheet begins
_SHORTER = 0.7  # times as long a step on cells half as long: with 0.5 no closer to the rings, twice the time


def finer[Run: SheetRun](run: Run) -> Run:
    """Split every triangle with a free node, but for those in a web.

    Parameters
    ----------
    run : the sheet on its way; not used any more afterwards

    Returns
    -------
    SheetRun : of the same kind, in the same state, under the same load, with cells half as long where free

    Notes
    -----
    What lies on the ground does not move, so a finer net would bring nothing there. The middle of a side that
    passes below the ground is pushed out along the normal, unless both ends lie: then the chord stays.
    """
    run.gather()
    along, across = stretches(run.x, run.ref).T
    taut = across * np.sqrt(np.maximum(along, 1.0)) > _TAUT
    free = (run.state[run.grid.triangles] == FREE).any(1) & taut & ~run.turned
    split = split_triangles(run.grid.triangles, free, count=len(run.x))
    a, b = split.ends.T

    def middled(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.concatenate([values, 0.5 * (values[a] + values[b])])

    x = middled(run.x)
    state, touched = _stood(run, split, x)
    old = run.grid
    grid = SheetGrid(
        middled(old.nodes),
        split.triangles,
        state == CLAMPED,
        np.concatenate([old.mirror, old.mirror[a] & old.mirror[b]]),
        0.5 * old.cell_mm,
        old.outline,
    )
    rest = middled(run.rest)
    volume = float((run.ref.area_mm2 * run.ref.weight).sum())
    stiff = (run.ref.strength / run.ref.weight)[split.parents]
    ref = reference(rest, grid.triangles, flat_area_mm2=volume, stiff=stiff)
    new = type(run)(grid, ref, run.ground, run.law, run.care, x, run.tick, state)
    new.rest, new.touched = rest, touched
    new.turned, new.pressed = run.turned[split.parents], run.pressed[split.parents]
    _carry(run, new)
    new.snapshots = [(step, np.concatenate([p, 0.5 * (p[a] + p[b])])) for step, p in run.snapshots]
    new.snapshot()
    new.factor()
    return new


def _carry(run: SheetRun, new: SheetRun) -> None:
    """Hand over what does not hang on the net; half the cell takes up to twice the steps."""
    new.vents, new.first, new.level = run.vents, run.first, run.level + 1
    new.pressure, new.share, new.frame_mm = run.pressure, run.share, run.frame_mm
    new.rise = run.rise
    new.step, new.forced, new.factored, new.log = run.step, run.forced, run.factored, run.log
    new.most_steps = run.step + 2 * (run.most_steps - run.step)
    new.reach_mm, new.calm, new.ease = _SHORTER * run.reach_mm, 0.5 / _SHORTER * run.calm, _EASE
    new.cap = new.ease * new.care.step * new.reach_mm
    new.continue_from(run)


def _stood(
    run: SheetRun, split: Split, x: NDArray[np.float64]
) -> tuple[NDArray[np.int8], NDArray[np.float64]]:
    """State and step of contact of all nodes; new ones below the ground are pushed out, in place."""
    (a, b), count = split.ends.T, len(run.x)
    one, other = run.state[a], run.state[b]
    rest = (one != FREE) & (other != FREE)
    gap = x[count:, 2] - run.ground.at(x[count:])
    _push_out(run, x, count + np.flatnonzero((gap < 0.0) & ~rest))
    near = gap * run.ground.levelness(x[count:]) < _TOUCHES * run.grid.cell_mm
    lies = (gap < 0.0) | (rest & near)
    frozen = (FOLDED, OVERDRAWN)
    state = np.full(len(a), FREE, np.int8)
    state[rest & np.isin(one, frozen) & np.isin(other, frozen)] = FOLDED
    state[lies] = LANDED
    state[(one == CLAMPED) & (other == CLAMPED)] = CLAMPED
    both = np.maximum(run.touched[a], run.touched[b])
    touched = np.where(state == FREE, np.inf, np.where(rest, both, float(run.step)))
    return np.concatenate([run.state, state]), np.concatenate([run.touched, touched])


def _push_out(run: SheetRun, x: NDArray[np.float64], nodes: NDArray[np.int64]) -> None:
    """Push nodes out of the ground, then let them fall back onto it the way they came."""
    inside, out = x[nodes], x[nodes]
    under = np.arange(len(nodes))
    for _ in range(_PUSHES):
        gap = out[under, 2] - run.ground.at(out[under])
        under, gap = under[gap < 0.0], gap[gap < 0.0]
        if not len(under):
            break
        normal = run.ground.normals(out[under])
        out[under] -= (_CLEAR * gap * normal[:, 2])[:, None] * normal
    clear = np.ones(len(nodes), np.bool_)
    clear[under] = False
    run.ground.land(out, inside - out, clear)
    x[nodes] = out
