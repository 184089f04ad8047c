"""A sheet that slides on the ground where friction does not hold it."""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.elimination_order import net_of
from buckwright.forming.forecast.formed import FREE, LANDED
from buckwright.forming.forecast.friction import Friction
from buckwright.forming.forecast.membrane import forces, stiffness
from buckwright.forming.forecast.preconditioner import Preconditioner
from buckwright.forming.forecast.sheet_run import SheetRun, longest

__all__ = ["SlidingRun"]

# Friction: pull off the ground that lifts a node at the edge of the contact, over a cell's width of the
# sheet; smaller pulls are ripples of a sheet not quite at rest
_LIFTS = 5e-3
_OVER = 1.01  # of the holding force: from here on a node slides
_ROUNDS = 20  # of finding again what slides, at one load
_SLIDE_REST = 0.5  # of the `rest` of the free sheet
_SLIDE_STEPS = 4  # steps spent on sliding over those that the whole run would take without it
_LEAST_AGE_LEFT = 1e-3  # friction grows to this many times less than for ever: it then holds whatever pulls


class SlidingRun(SheetRun):
    """A sheet that slides where friction does not hold it.

    Between two loads this is a return to Coulomb's cone: at rest with everything that lies held fast, the
    nodes pulled along the ground by more than friction holds slide, driven by the excess, and the free sheet
    with them.
    """

    friction: Friction
    both: Preconditioner
    sticks_after_mm: float
    since: NDArray[np.float64]
    slides_left: int
    slid_to_mm: float | None

    def slides_by(self, coefficient: float, sticks_after_mm: float) -> None:
        """Set Coulomb's coefficient, and the way of the frame after which what has touched sticks."""
        self.friction = Friction(coefficient, self.ground)
        self.both = Preconditioner(self.ref, net_of(self.grid.nodes, self.grid.triangles))
        self.sticks_after_mm = sticks_after_mm
        self.since = np.full(len(self.x), np.nan)
        self.slides_left, self.slid_to_mm = _SLIDE_STEPS * self.most_steps, None

    def continue_from(self, run: SheetRun) -> None:
        """Slide on with the same coefficient, unless the sheet sticks once the air presses it on."""
        assert isinstance(run, SlidingRun)
        self.slides_by(run.friction.coefficient, run.sticks_after_mm)
        self.slides_left, self.slid_to_mm = run.slides_left, run.slid_to_mm

    def stand(self, places: NDArray[np.int64], state: int, touched: float | NDArray[np.float64]) -> None:
        """Note where the frame was when a node first touched: it chills from then on."""
        super().stand(places, state, touched)
        nodes = self.loose.nodes[places]
        fresh = nodes[np.isnan(self.since[nodes])]
        self.since[fresh] = self.frame_mm

    def grown(self, nodes: NDArray[np.int64]) -> NDArray[np.float64]:
        """By how much friction has grown on nodes since they first touched; once chilled they are held."""
        if not np.isfinite(self.sticks_after_mm):
            return np.ones(len(nodes))
        age = np.clip((self.since[nodes] - self.frame_mm) / self.sticks_after_mm, 0.0, 1.0)
        return np.asarray(1.0 / np.maximum(1.0 - age, _LEAST_AGE_LEFT))

    def give_way(self, *, rest: float) -> None:
        """Let slide what friction cannot hold, as long as it may; no run is held up by what slides."""
        if self.slid_to_mm is not None or (self.pressure and np.isfinite(self.sticks_after_mm)):
            return
        begin = self.step
        self._give_way(rest=rest)
        self.most_steps += self.step - begin  # the rest of the run keeps the steps that it would have without
        self.slides_left -= self.step - begin
        if self.slides_left <= 0:
            self.slid_to_mm = self.frame_mm

    def _give_way(self, *, rest: float) -> None:
        self.gather()
        # each node once per load, so that none goes up and down for ever
        lifted = np.zeros(len(self.x), np.bool_)
        once = bool(np.isfinite(self.sticks_after_mm))  # what chills soon need not be peeled off to the last
        for _ in range(_ROUNDS):
            if self.over():
                break
            landed = np.flatnonzero(self.state == LANDED)
            normal = self.ground.normals(self.x[landed])
            force = self.load_on(landed, normal)
            off = landed[(force * normal).sum(1) > _LIFTS * self.grid.cell_mm]
            off = off[self.at_the_edge()[off] & ~lifted[off]]
            if len(off) and not (once and lifted.any()):
                lifted[off] = True
                self.lift(off)
                self.factor()
                self.settle(rest=rest)
                self.gather()
                continue
            slides = landed[self.friction.used(force, normal, self.grown(landed)) > _OVER]
            if not len(slides):
                break
            if self.slide(slides, rest=rest) < rest * self.cap:
                break
        else:
            self.forced += 1

    def load_on(self, nodes: NDArray[np.int64], normal: NDArray[np.float64]) -> NDArray[np.float64]:
        """Force (n, 3) of sheet and air on nodes on the ground, in the present state.

        Where a whole triangle lies on the ground, the air presses along the normals: a triangle that cuts off
        a corner of the buck would otherwise be driven ever farther down both its sides.
        """
        if not self.pressure:
            pull, _ = forces(self.x, self.ref, self.law, self.pressed)
            pull[:, :2][self.grid.mirror] = 0.0
            return np.asarray(pull[nodes])
        lies = (self.state == LANDED)[self.ref.triangles].all(1)
        pull, push = forces(self.x, self.ref, self.law, self.pressed & ~lies)
        force = pull + self.pressure * push
        force[:, :2][self.grid.mirror] = 0.0
        _, push = forces(self.x, self.ref, self.law, self.pressed & lies)
        down = np.minimum((push[nodes] * normal).sum(1), 0.0)
        return np.asarray(force[nodes] + self.pressure * down[:, None] * normal)

    def at_the_edge(self) -> NDArray[np.bool_]:
        """Nodes (N,) that have a free neighbour."""
        free = self.state == FREE
        beside = np.zeros(len(self.x), np.bool_)
        beside[self.ends[free[self.ends].any(1)]] = True
        return beside

    def lift(self, nodes: NDArray[np.int64]) -> None:
        """Nodes have left the ground and are free again."""
        self.state[nodes] = FREE
        self.touched[nodes] = np.inf
        self.free += len(nodes)

    def slide(self, slides: NDArray[np.int64], *, rest: float) -> float:
        """Slide landed nodes one step, bring the free ones to rest again, and return how far they went, mm.

        The free nodes move along at first; only then does a long sheet respond as softly as it is. One step
        at a time: what slides too far, because the free sheet is not at rest, does not come back.
        """
        loose = self.state == FREE
        loose[slides] = True
        movable = np.repeat(loose[:, None], 3, axis=1)
        movable[:, :2] &= ~self.grid.mirror
        self.both.factor(*stiffness(self.x, self.ref, self.law), movable)
        self.factored += 1
        normal = self.ground.normals(self.x[slides])
        drive = np.zeros_like(self.x)
        drive[slides] = self.friction.excess(self.load_on(slides, normal), normal, self.grown(slides))
        move = np.zeros_like(self.x)
        move[loose] = self.both.solve(drive[None, loose])[0]
        move[slides] -= (move[slides] * normal).sum(1)[:, None] * normal
        move *= min(1.0, self.cap / max(longest(move), 1e-300))
        left = slides[self.friction.slide(self.x, slides, move[slides], normal)]
        self.loose.x[:] = self.x[self.loose.near]
        self.mixing.forget()
        self.ready = None
        self.move(move[self.loose.nodes])
        if len(left):
            self.gather()
            self.lift(left)
            self.factor()
        self.settle(rest=_SLIDE_REST * rest)
        self.gather()
        return longest(move[slides])
