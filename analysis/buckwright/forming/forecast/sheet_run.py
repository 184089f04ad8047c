"""One sheet on its way: its state, one step of it, and how it comes to rest at a load."""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.active_set import ActiveSet
from buckwright.forming.forecast.air_paths import pressed_triangles
from buckwright.forming.forecast.anderson import AndersonMixing
from buckwright.forming.forecast.elimination_order import net_of
from buckwright.forming.forecast.formed import CLAMPED, FOLDED, FREE, LANDED, MOST_DRAWN, OVERDRAWN, Care
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Law, Reference, stiffness
from buckwright.forming.forecast.preconditioner import Preconditioner
from buckwright.forming.forecast.sheet_grid import SheetGrid
from buckwright.kernel import kernel
from buckwright.mesh.adjacency import edge_table

__all__ = ["SheetRun", "longest"]

_SNAPSHOTS = 80  # kept of the sheet on its way, evenly by the share that has landed; half as many once split
_STEP_NODES = 20_000  # up to this many nodes steps are in cells
_REFACTOR_STEPS = 60
_PART_SHARE = 0.5  # of the nodes of the part of the sheet that is looked through for what is free
_PATIENCE = 40  # steps at one load
# After so many steps at one load on a finer net what counts as rest grows by this factor a step, up to nearly
# a step: webs creep for long, and what lies in them has no figure.
_SOON, _LOOSER, _LOOSEST = 4, 1.3, 0.9
_FOLD = -0.6  # height of a triangle's normal at which it counts as turned over; walls are near 0


class SheetRun:
    """One sheet on its way."""

    def __init__(
        self,
        grid: SheetGrid,
        ref: Reference,
        ground: LandingSurface,
        law: Law,
        care: Care,
        start: NDArray[np.float64],
        tick: Callable[[float], None],
        state: NDArray[np.int8] | None = None,
    ) -> None:
        self.grid, self.ref, self.ground, self.law, self.care = grid, ref, ground, law, care
        self.x, self.rest = start.copy(), start
        self.most_steps, self.tick = 0, tick
        self.vents: NDArray[np.float64] | None = None
        self.ends = edge_table(grid.triangles).edges
        self.state = np.where(grid.clamped, CLAMPED, FREE).astype(np.int8) if state is None else state
        self.touched = np.where(grid.clamped, -1.0, np.inf)
        self.turned = np.zeros(len(grid.triangles), np.bool_)
        self.pressed = np.ones(len(grid.triangles), np.bool_)
        self.part = self.loose = ActiveSet(self.x, self.state == FREE, ref)
        self.give: Preconditioner | None = None
        self.mixing = AndersonMixing(0)
        self.pressure, self.share, self.rise = 0.0, 0.0, math.inf
        self.ready: NDArray[np.float64] | None = None
        self.push = np.zeros_like(self.loose.moving)
        self.free = self.free_at_snapshot = len(self.loose.nodes)
        self.first, self.level = len(start), 0
        self.calm = 1.0  # what counts as rest goes with the cell, and steps shrink more slowly
        self.frame_mm = float(start[grid.clamped, 2].max())
        self.step = self.forced = self.factored = 0
        self.landed_since = self.steps_since = 0
        self.log: list[tuple[float, float]] = []
        self.snapshots: list[tuple[int, NDArray[np.float32]]] = []
        # steps must not lose the accuracy that a finer mesh brings, but need not shrink as fast as its cells
        self.reach_mm = grid.cell_mm * max(1.0, (len(start) / _STEP_NODES) ** 0.25)
        self.cap, self.ease = care.fall * grid.cell_mm, 1.0

    def over(self) -> bool:
        """Whether nothing moves any more, or the steps are used up."""
        return self.step >= self.most_steps or not self.free

    def gather(self) -> None:
        """Copy what has moved back into the whole sheet."""
        self.x[self.loose.nodes] = self.loose.moving

    def factor(self) -> None:
        """Factor the stiffness of what is free now."""
        self.gather()
        free = self.state == FREE
        give = self._rooted(free)
        self.loose = ActiveSet(self.x, free, self.ref, within=self.part)
        near = self.part.near
        movable = np.repeat(free[near, None], 3, axis=1)
        movable[:, :2] &= ~self.grid.mirror[near]
        give.factor(*stiffness(self.loose.x, self.loose.ref, self.law), movable, listed=self.loose.among)
        self.mixing.follow(len(self.loose.nodes))
        self.ready = None
        self.landed_since = self.steps_since = 0
        self.factored += 1

    def _rooted(self, free: NDArray[np.bool_]) -> Preconditioner:
        """The part of the sheet that holds all that is free, and not much more."""
        fits = self.free >= _PART_SHARE * len(self.part.nodes) and self.part.holds(self.free, free)
        if self.give is None or not fits:
            if not fits:
                self.part = ActiveSet(self.x, free, self.ref)
            net = net_of(self.grid.nodes[self.part.near], self.part.ref.triangles)
            self.give = Preconditioner(self.part.ref, net, height_share=self.care.height_share)
        return self.give

    def pulls(self) -> NDArray[np.float64]:
        """How the active nodes would move under the present forces.

        Returns
        -------
        (n, 3) float64, mm
        """
        pull, self.push = self.loose.forces(self.law, self.pressed)
        return self.answer(pull + self.pressure * self.push if self.pressure else pull)

    def more(self) -> NDArray[np.float64]:
        """How they would move under a unit of extra pressure.

        Returns
        -------
        (n, 3) float64, mm
        """
        if self.ready is None:
            self.ready = self.pulls()
        return self.answer(self.push)

    def answer(self, force: NDArray[np.float64]) -> NDArray[np.float64]:
        """How the active nodes would move under forces.

        Parameters
        ----------
        force : (n, 3) float64, over the modulus and thickness

        Returns
        -------
        (n, 3) float64, mm
        """
        assert self.give is not None
        move: NDArray[np.float64] = self.give.solve(force[None])[0]
        move[~self.loose.live] = 0.0
        return move

    def move(self, by: NDArray[np.float64]) -> None:
        """Move the active nodes, land them, freeze folds, keep the log.

        Parameters
        ----------
        by : (n, 3) float64, mm
        """
        landed, share = self.loose.land(self.ground, by)
        self.stand(landed, LANDED, self.step + share)
        turned, folded, thin = self.loose.spoilt(least=_FOLD, most=MOST_DRAWN)
        self.turned[turned] = True
        self.stand(folded, FOLDED, self.step)
        self.stand(thin, OVERDRAWN, np.inf)
        self.step += 1
        self.steps_since += 1
        self.mixing.hold(np.concatenate([landed, folded, thin]))
        self.log.append((self.pressure, self.frame_mm))
        if (self.free_at_snapshot - self.free) * (_SNAPSHOTS >> min(self.level, 1)) >= len(self.state):
            self.snapshot()

    def stand(self, places: NDArray[np.int64], state: int, touched: float | NDArray[np.float64]) -> None:
        """Bring active nodes to a stand in a state, from the step at which they touched."""
        nodes = self.loose.nodes[places]
        self.state[nodes] = state
        self.touched[nodes] = touched
        self.free -= len(nodes)
        self.landed_since += len(nodes)

    def snapshot(self) -> None:
        """Keep the sheet as it is."""
        self.gather()
        self.snapshots.append((self.step, self.x.astype(np.float32)))
        self.free_at_snapshot = self.free

    def drain(self, vents: NDArray[np.float64]) -> None:
        """Take the pressure from regions that have lost their way to the platen and to the vents."""
        self.gather()
        pressed = pressed_triangles(
            self.x, self.ref.triangles, self.ends, self.state == FREE, self.ground, vents
        )
        if not np.array_equal(pressed, self.pressed):
            self.pressed = pressed
            self.mixing.forget()
            self.ready = None

    def settle(self, *, rest: float) -> None:
        """Step until the sheet is at rest at its present load, or patience runs out.

        Parameters
        ----------
        rest : share of the largest step below which the next one counts as rest
        """
        before: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None
        rest *= self.calm
        for tried in range(math.ceil(_PATIENCE / self.ease)):  # shorter steps take more of them
            if self.level and tried > _SOON / self.ease:
                rest = min(_LOOSER * rest, _LOOSEST)
            if self.landed_since > self.care.factor * self.free or self.steps_since >= _REFACTOR_STEPS:
                self.factor()
                before = None
            move = self.pulls() if self.ready is None else self.ready
            self.ready = None
            if before is not None:
                self.mixing.learn(self.loose.moving - before[0], move - before[1])
                self.mixing.hold(np.flatnonzero(~self.loose.live))
            better = self.mixing.corrected(move)
            way = longest(better)
            if max(longest(move), way) < rest * self.cap or self.over():
                self.ready = move
                return
            before = (self.loose.moving.copy(), move)
            self.move(better * min(1.0, self.cap / way))
            self.tick(self.share)
        self.forced += 1

    @property
    def left(self) -> float:
        """Share of the flat sheet that is still free, about."""
        return self.free / (4.0**self.level * self.first)

    def continue_from(self, run: "SheetRun") -> None:
        """Take over what a kind of run has besides, on a finer net: nothing where the sheet sticks."""

    def give_way(self, *, rest: float) -> None:
        """Let the sheet slide on the ground once it has come to rest: not where it sticks."""


def longest(vectors: NDArray[np.float64]) -> float:
    """Length of the longest vector.

    Parameters
    ----------
    vectors : (n, 3) float64

    Returns
    -------
    float : 0 where there are none
    """
    return float(np.sqrt(_longest_square(vectors)))


@kernel
def _longest_square(vectors):  # type: ignore[no-untyped-def]
    most = 0.0
    for n in range(vectors.shape[0]):
        square = vectors[n, 0] ** 2 + vectors[n, 1] ** 2 + vectors[n, 2] ** 2
        if not square <= most:  # so that what is not a number is not overlooked
            most = square
    return most
