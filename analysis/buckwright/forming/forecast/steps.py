"""Quasi-static forming: the frame comes down, then the air leaves; what touches sticks, or slides if asked.

Inertia and heat play no part: at every load the free sheet is brought to rest before the load goes on.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.active_set import ActiveSet
from buckwright.forming.forecast.air_paths import pressed_triangles
from buckwright.forming.forecast.anderson import AndersonMixing
from buckwright.forming.forecast.elimination_order import net_of
from buckwright.forming.forecast.friction import Friction
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Law, Reference, forces, stiffness
from buckwright.forming.forecast.preconditioner import Preconditioner
from buckwright.forming.forecast.sheet_grid import SheetGrid
from buckwright.mesh.adjacency import edge_table

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
    "form_sheet",
]

FREE, CLAMPED, LANDED, FOLDED, OVERDRAWN = 0, 1, 2, 3, 4

_NEO_HOOKEAN = Law()
_STEPS_A_CAP = 8.0  # limit of steps over the distance to go in steps; sheets that came to rest needed 1 to 3
# A sheet thinner than one part in this many tears or is useless; a neo-Hookean one, which has a limit
# pressure, would stretch for ever (judgement).
MOST_DRAWN = 25.0

_SNAPSHOTS = 80  # kept of the sheet on its way, evenly by the share that has landed
_STEP_NODES = 20_000  # up to this many nodes steps are in cells
_REFACTOR_SHARE = 0.05  # of the free nodes, newly landed
_REFACTOR_STEPS = 60
_PATIENCE = 40  # steps at one load
_FOLD = -0.6  # height of a triangle's normal at which it counts as turned over; walls are near 0
_FIRST_FALL = 1 / 32  # of a step: the flat sheet is slack, so the frame begins gently
_FALL_GROWTH = 0.1  # and then falls each time by this share of its way so far
_LAST_REST = 0.02
_PRESSURE_STEP = 0.05  # largest relative growth of the pressure at one load
_FIRST_EASE, _EASE_GROWTH = 1 / 8, 1.3  # share of the step as evacuation begins, its growth per load
_FIRST_PRESSURE = 0.01  # and the smallest pressure step ever made, over the final pressure
# Friction: pull off the ground that lifts a node at the edge of the contact, over a cell's width of the
# sheet; smaller pulls are ripples of a sheet not quite at rest
_LIFTS = 5e-3
_OVER = 1.01  # of the holding force: from here on a node slides
_ROUNDS = 20  # of finding again what slides, at one load
_SLIDE_REST = 0.5  # of the `rest` of the free sheet
_SLIDE_STEPS = 4  # times as many steps in a run


@dataclass(frozen=True, slots=True)
class Care:
    """How closely the sheet is followed.

    Attributes
    ----------
    fall, step : largest movement in one step, over the cell, while the frame comes down and while the air is
        evacuated. Beyond 20,000 nodes the latter shrinks as the root of the cell; it begins smaller
    calm, rest : the load goes on when the next step would be shorter than this share of it
    """

    fall: float = 0.35
    step: float = 0.35
    calm: float = 0.1
    rest: float = 0.15


FINE = Care()
PREVIEW = Care(fall=0.5, step=0.5, calm=0.2, rest=0.3)


@dataclass(frozen=True, slots=True, eq=False)
class Formed:
    """The sheet when it has come to rest.

    Attributes
    ----------
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
    """

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


class _Run:
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
    ) -> None:
        self.grid, self.ref, self.ground, self.law, self.care = grid, ref, ground, law, care
        self.x = start.copy()
        self.most_steps, self.tick = 0, tick
        self.vents: NDArray[np.float64] | None = None
        self.ends = edge_table(grid.triangles).edges
        self.state = np.where(grid.clamped, CLAMPED, FREE).astype(np.int8)
        self.touched = np.where(grid.clamped, -1.0, np.inf)
        self.turned = np.zeros(len(grid.triangles), np.bool_)
        self.pressed = np.ones(len(grid.triangles), np.bool_)
        self.loose = ActiveSet(self.x, self.state == FREE, ref)
        self.net = net_of(grid.nodes, grid.triangles)
        self.give, self.mixing = Preconditioner(ref, self.net), AndersonMixing(0)
        self.pressure, self.share = 0.0, 0.0
        self.ready: NDArray[np.float64] | None = None
        self.push = np.zeros_like(self.loose.moving)
        self.free = self.free_at_snapshot = len(self.loose.nodes)
        self.frame_mm = float(start[grid.clamped, 2].max())
        self.step = self.forced = self.factored = 0
        self.landed_since = self.steps_since = 0
        self.log: list[tuple[float, float]] = []
        self.snapshots: list[tuple[int, NDArray[np.float32]]] = []
        # steps must not lose the accuracy that a finer mesh brings, but need not shrink as fast as its cells
        self.reach_mm = grid.cell_mm * max(1.0, (len(start) / _STEP_NODES) ** 0.25)
        self.cap, self.ease = care.fall * grid.cell_mm, 1.0

    def over(self) -> bool:
        return self.step >= self.most_steps or not self.free

    def gather(self) -> None:
        """Copy what has moved back into the whole sheet."""
        self.x[self.loose.nodes] = self.loose.moving

    def factor(self) -> None:
        self.gather()
        free = self.state == FREE
        movable = np.repeat(free[:, None], 3, axis=1)
        movable[:, :2] &= ~self.grid.mirror
        self.give.factor(*stiffness(self.x, self.ref, self.law), movable)
        self.loose = ActiveSet(self.x, free, self.ref)
        self.mixing.follow(len(self.loose.nodes))
        self.ready = None
        self.landed_since = self.steps_since = 0
        self.factored += 1

    def pulls(self) -> NDArray[np.float64]:
        """Movement (n, 3) of the active nodes under the present forces."""
        pull, self.push = self.loose.forces(self.law, self.pressed)
        return self.answer(pull + self.pressure * self.push if self.pressure else pull)

    def more(self) -> NDArray[np.float64]:
        """Movement under a unit of extra pressure."""
        if self.ready is None:
            self.ready = self.pulls()
        return self.answer(self.push)

    def answer(self, force: NDArray[np.float64]) -> NDArray[np.float64]:
        move: NDArray[np.float64] = self.give.solve(force[None])[0]
        move[~self.loose.live] = 0.0
        return move

    def move(self, by: NDArray[np.float64]) -> None:
        """Move the active nodes, land them, freeze folds, keep the log."""
        landed, share = self.loose.land(self.ground, by)
        self.stand(landed, LANDED, self.step + share)
        turned, folded = self.loose.turned_over(_FOLD)
        self.turned[turned] = True
        self.stand(folded, FOLDED, self.step)
        _, thin = self.loose.overdrawn(MOST_DRAWN)
        self.stand(thin, OVERDRAWN, np.inf)
        self.step += 1
        self.steps_since += 1
        self.mixing.hold(np.concatenate([landed, folded, thin]))
        self.log.append((self.pressure, self.frame_mm))
        if (self.free_at_snapshot - self.free) * _SNAPSHOTS >= len(self.state):
            self.snapshot()

    def stand(self, places: NDArray[np.int64], state: int, touched: float | NDArray[np.float64]) -> None:
        nodes = self.loose.nodes[places]
        self.state[nodes] = state
        self.touched[nodes] = touched
        self.free -= len(nodes)
        self.landed_since += len(nodes)

    def snapshot(self) -> None:
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
        """Step until the sheet is at rest at its present load, or patience runs out."""
        before: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None
        for _ in range(math.ceil(_PATIENCE / self.ease)):  # shorter steps take more of them
            if self.landed_since > _REFACTOR_SHARE * self.free or self.steps_since >= _REFACTOR_STEPS:
                self.factor()
                before = None
            move = self.pulls() if self.ready is None else self.ready
            self.ready = None
            if before is not None:
                self.mixing.learn(self.loose.moving - before[0], move - before[1])
                self.mixing.hold(np.flatnonzero(~self.loose.live))
            better = self.mixing.corrected(move)
            longest = _longest(better)
            if max(_longest(move), longest) < rest * self.cap or self.over():
                self.ready = move
                return
            before = (self.loose.moving.copy(), move)
            self.move(better * min(1.0, self.cap / longest))
            self.tick(self.share)
        self.forced += 1

    def give_way(self, *, rest: float) -> None:
        """Let the sheet slide on the ground once it has come to rest: not where it sticks."""

    def lower(self, to_mm: float) -> None:
        """Lower the frame; only its own nodes move with it."""
        start = self.frame_mm
        last: tuple[NDArray[np.float64], float] | None = None
        self.factor()
        while self.frame_mm > to_mm + 1e-9 * self.cap and not self.over():
            by = min(max(_FIRST_FALL, _FALL_GROWTH * (start - self.frame_mm) / self.cap), 1.0) * self.cap
            by = min(by, self.frame_mm - to_mm)
            self.gather()
            before = self.x[:, 2].copy()
            self.frame_mm -= by
            self.x[self.grid.clamped, 2] -= by
            self.loose.x[self.grid.clamped[self.loose.near], 2] -= by
            self.ready = None
            if last is not None:
                # continue downwards as before; in its own plane a slack sheet has no motion worth continuing
                ahead = np.zeros_like(self.loose.moving)
                ahead[:, 2] = (by / last[1]) * last[0][self.loose.nodes] * self.loose.live
                self.move(ahead * min(1.0, self.cap / max(_longest(ahead), 1e-300)))
            self.settle(rest=self.care.calm * by / self.cap)
            self.give_way(rest=self.care.calm * by / self.cap)
            self.gather()
            last = self.x[:, 2] - before, by
            self.share = 0.5 * (start - self.frame_mm) / (start - to_mm)
        self.share = 0.5

    def evacuate(self, most: float) -> None:
        """Raise the pressure difference."""
        self.ease = _FIRST_EASE
        self.cap = self.ease * self.care.step * self.reach_mm
        self.factor()
        self.snapshot()
        if self.vents is not None:
            self.drain(self.vents)
        self.settle(rest=self.care.rest)
        while self.pressure < most and not self.over():
            more = self.more()
            reach = _longest(self.mixing.corrected(more))
            bound = max(_PRESSURE_STEP * self.pressure, _FIRST_PRESSURE * most)
            rise = min((1.0 - self.care.rest) * self.cap / reach, bound) if reach > 0.0 else bound
            rise = min(rise, most - self.pressure)
            self.pressure += rise
            if self.ready is not None:
                self.ready = self.ready + rise * more
            self.settle(rest=self.care.rest)
            self.give_way(rest=self.care.rest)
            self.ease = min(_EASE_GROWTH * self.ease, 1.0)
            self.cap = self.ease * self.care.step * self.reach_mm
            if self.vents is not None:
                self.drain(self.vents)
            self.share = max(self.share, 1.0 - 0.5 * self.free / len(self.state))
        self.settle(rest=_LAST_REST)
        self.give_way(rest=_LAST_REST)


class _Sliding(_Run):
    """A sheet that slides where friction does not hold it.

    Between two loads this is a return to Coulomb's cone: at rest with everything that lies held fast, the
    nodes pulled along the ground by more than friction holds slide, driven by the excess, and the free sheet
    with them.
    """

    friction: Friction
    both: Preconditioner

    def slides_by(self, coefficient: float) -> None:
        """Set Coulomb's coefficient."""
        self.friction = Friction(coefficient, self.ground)
        self.both = Preconditioner(self.ref, self.net)

    def give_way(self, *, rest: float) -> None:
        """Let slide what friction cannot hold until it can, or patience runs out."""
        self.gather()
        # each node once per load, so that none goes up and down for ever
        lifted = np.zeros(len(self.x), np.bool_)
        for _ in range(_ROUNDS):
            if self.over():
                break
            landed = np.flatnonzero(self.state == LANDED)
            normal = self.ground.normals(self.x[landed])
            force = self.load_on(landed, normal)
            off = landed[(force * normal).sum(1) > _LIFTS * self.grid.cell_mm]
            off = off[self.at_the_edge()[off] & ~lifted[off]]
            if len(off):
                lifted[off] = True
                self.lift(off)
                self.factor()
                self.settle(rest=rest)
                self.gather()
                continue
            slides = landed[self.friction.used(force, normal) > _OVER]
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
        if not self.loose.live.all():
            self.factor()
        loose = self.state == FREE
        loose[slides] = True
        movable = np.repeat(loose[:, None], 3, axis=1)
        movable[:, :2] &= ~self.grid.mirror
        self.both.factor(*stiffness(self.x, self.ref, self.law), movable)
        self.factored += 1
        normal = self.ground.normals(self.x[slides])
        drive = np.zeros_like(self.x)
        drive[slides] = self.friction.excess(self.load_on(slides, normal), normal)
        move = np.zeros_like(self.x)
        move[loose] = self.both.solve(drive[None, loose])[0]
        move[slides] -= (move[slides] * normal).sum(1)[:, None] * normal
        move *= min(1.0, self.cap / max(_longest(move), 1e-300))
        left = slides[self.friction.slide(self.x, slides, move[slides], normal)]
        self.loose = ActiveSet(self.x, self.state == FREE, self.ref)
        self.mixing.forget()
        self.ready = None
        self.move(move[self.loose.nodes])
        if len(left):
            self.gather()
            self.lift(left)
            self.factor()
        self.settle(rest=_SLIDE_REST * rest)
        self.gather()
        return _longest(move[slides])


def _longest(vectors: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.einsum("ij,ij->i", vectors, vectors).max(initial=0.0)))


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
    vents_mm: NDArray[np.float64] | None = None,
    most_steps: int | None = None,
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
    vents_mm : (V, 2 or more) float64, mm, where air leaves the buck; regions sealed without a vent then bear
        no pressure and stay bridged. None: air leaves everywhere
    most_steps : limit of the number of steps; by default a bound from the distance to go
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
    kind = _Run if friction is None else _Sliding
    run = kind(grid, ref, ground, law, care, start, tick or (lambda _share: None))
    run.vents = None if vents_mm is None else np.asarray(vents_mm, np.float64)[:, :2]
    way = run.frame_mm - frame_to_mm + float(np.ptp(ground.height)) + float(np.ptp(grid.nodes, axis=0).max())
    run.most_steps = most_steps or math.ceil(_STEPS_A_CAP * way / run.cap)
    if isinstance(run, _Sliding) and friction is not None:
        run.slides_by(friction)
        run.most_steps = most_steps or _SLIDE_STEPS * run.most_steps
    run.snapshot()
    run.lower(frame_to_mm)
    run.evacuate(pressure_per_mm)
    run.snapshot()
    steps, pictures = zip(*run.snapshots, strict=True)
    stopped = ""
    if run.step >= run.most_steps:
        stopped = f"stopped after {run.step} steps at {run.pressure / pressure_per_mm:.0%} of the pressure"
    return Formed(
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
    )
