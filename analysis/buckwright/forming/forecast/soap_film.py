"""The classical picture of pressing: a free sheet of even thickness and even tension, like a soap film.

At every moment each free region is a surface of constant mean curvature (a cap, an arc) and evenly thin; what
it touches freezes with the thickness of that moment. No law of the sheet plays a part. It is the simpler,
second model: it has no webs, and it cannot know that a dome of rubber is thinnest at its pole.
"""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.air_paths import free_places
from buckwright.forming.forecast.elimination_order import net_of
from buckwright.forming.forecast.formed import CLAMPED, FREE, LANDED, Formed
from buckwright.forming.forecast.hull_drape import drape_by_hull
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Reference, reference
from buckwright.forming.forecast.preconditioner import Preconditioner
from buckwright.forming.forecast.sheet_grid import SheetGrid
from buckwright.forming.forecast.thickness import formed_area_mm2
from buckwright.mesh.adjacency import edge_table

__all__ = ["press_film"]

_STEP = 0.35  # largest movement in one step, over the cell
_LOADS_A_STEP = 0.8  # share of a step that one load asks for
_REST = 0.2
_PATIENCE = 8  # steps at one load
_REFACTOR_SHARE, _REFACTOR_STEPS = 0.05, 25
_SMOOTHING = 0.1  # share of the way to the middle of its neighbours that a node slides in the film per step
_STEPS_A_CAP = 12.0
_SNAPSHOTS = 60


class _Film:
    def __init__(
        self, grid: SheetGrid, ground: LandingSurface, frame_to_mm: float, tick: Callable[[float], None]
    ) -> None:
        draped = drape_by_hull(grid, ground, frame_to_mm=frame_to_mm)
        self.grid, self.ground, self.tick = grid, ground, tick
        self.net = net_of(grid.nodes, grid.triangles)
        self.x, self.volume = draped.points, draped.volume_mm3
        self.state = np.where(grid.clamped, CLAMPED, np.where(draped.landed, LANDED, FREE)).astype(np.int8)
        self.touched = np.where(grid.clamped, -1.0, draped.touched)
        self.step = draped.levels
        self.log = [0.0] * draped.levels
        self.ends = edge_table(grid.triangles).edges
        self.cap = _STEP * grid.cell_mm
        self.forced = self.factored = 0
        self.landed_since = self.steps_since = 0
        self.snapshots = [(0, self.x.astype(np.float32)), (self.step, self.x.astype(np.float32))]
        self.factor()
        self.relabel()

    def factor(self) -> None:
        self.give = Preconditioner(reference(self.x, self.grid.triangles), self.net)
        one = np.ones(len(self.grid.triangles))
        movable = np.repeat((self.state == FREE)[:, None], 3, axis=1)
        movable[:, :2] &= ~self.grid.mirror
        self.give.factor(one, one, movable)
        self.landed_since = self.steps_since = 0
        self.factored += 1

    def relabel(self) -> None:
        """Number the free regions; triangles take that of their free nodes, -1 where they lie at rest."""
        free = self.state == FREE
        label = free_places(self.ends, free)[1]
        used, number = np.unique(np.where(free, label, -1), return_inverse=True)
        self.label = number - int(used[0] == -1)
        self.places = len(used) - int(used[0] == -1)
        self.face_label = self.label[self.grid.triangles].max(1)

    def forces(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Tension of the film and force of a unit pressure at the nodes, both (N, 3)."""
        tri, x = self.grid.triangles, self.x
        a, b, c = x[tri[:, 0]], x[tri[:, 1]], x[tri[:, 2]]
        double = np.cross(b - a, c - a)
        normal = double / np.maximum(np.linalg.norm(double, axis=1), 1e-300)[:, None]
        pull, push = np.zeros_like(x), np.zeros_like(x)
        for k, opposite in enumerate((c - b, a - c, b - a)):
            grad = 0.5 * np.cross(normal, opposite)
            for axis in range(3):
                pull[:, axis] -= np.bincount(tri[:, k], grad[:, axis], len(x))
                push[:, axis] -= np.bincount(tri[:, k], double[:, axis] / 6.0, len(x))
        off = self.state != FREE
        pull[off] = push[off] = 0.0
        return pull, push

    def summed(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        free = self.label >= 0
        return np.bincount(self.label[free], values[free], self.places)

    def load(self, most: float) -> bool:
        """Sweep a little volume under every free region; False when all of them hold the full pressure."""
        wanted: NDArray[np.float64] | None = None
        held = np.zeros(self.places, np.bool_)
        for _ in range(_PATIENCE):
            if (
                self.steps_since >= _REFACTOR_STEPS
                or self.landed_since > _REFACTOR_SHARE * (self.label >= 0).sum()
            ):
                self.factor()
            pull, push = self.forces()
            both = np.zeros((2, *pull.shape))
            both[:, self.give.nodes] = self.give.solve(np.stack([pull, push])[:, self.give.nodes])
            both[:, self.state != FREE] = 0.0
            rate, slip = (self.summed((push * move).sum(1)) for move in both[::-1])
            if wanted is None:
                longest = np.zeros(self.places)
                free = self.label >= 0
                np.maximum.at(longest, self.label[free], np.linalg.norm(both[1][free], axis=1))
                wanted = _LOADS_A_STEP * self.cap * rate / np.maximum(longest, 1e-300)
            pressure = (wanted - slip) / np.maximum(rate, 1e-300)
            held |= pressure > most
            pressure = np.clip(pressure, 0.0, most)
            at = np.where(self.label >= 0, pressure[np.maximum(self.label, 0)], 0.0)
            move = both[0] + at[:, None] * both[1]
            size = float(np.linalg.norm(move, axis=1).max(initial=0.0))
            if size < _REST * self.cap:
                return not held.all()
            move *= min(1.0, self.cap / size)
            wanted = wanted - self.summed((push * move).sum(1))
            if self.go(move + self.smoothing(push), float(pressure.max(initial=0.0))):
                # the free regions have changed: let them come to rest before more is swept
                wanted, held = np.zeros(self.places), np.zeros(self.places, np.bool_)
                if not self.places:
                    return False
        self.forced += 1
        return not held.all()

    def smoothing(self, push: NDArray[np.float64]) -> NDArray[np.float64]:
        """Slide towards the middle of the neighbours within the film: it has no memory."""
        total, count = np.zeros_like(self.x), np.zeros(len(self.x))
        for i, j in ((0, 1), (1, 0)):
            count += np.bincount(self.ends[:, i], minlength=len(self.x))
            for axis in range(3):
                total[:, axis] += np.bincount(self.ends[:, i], self.x[self.ends[:, j], axis], len(self.x))
        slide = _SMOOTHING * (total / np.maximum(count, 1)[:, None] - self.x)
        normal = push / np.maximum(np.linalg.norm(push, axis=1), 1e-300)[:, None]
        slide -= (slide * normal).sum(1)[:, None] * normal
        slide[self.state != FREE] = 0.0
        slide[:, :2][self.grid.mirror] = 0.0
        return np.asarray(slide)

    def go(self, move: NDArray[np.float64], pressure: float) -> bool:
        """Move and land; the mass of each region spreads evenly over it. True when something landed."""
        share = self.ground.land(self.x, move, self.state == FREE)
        landed = np.flatnonzero(np.isfinite(share))
        area = formed_area_mm2(self.x, self.grid.triangles)
        free = self.face_label >= 0
        label = self.face_label[free]
        total, volume = (np.bincount(label, v[free], self.places) for v in (area, self.volume))
        self.volume[free] = area[free] * (volume / np.maximum(total, 1e-300))[label]
        self.state[landed] = LANDED
        self.touched[landed] = self.step + share[landed]
        self.step += 1
        self.steps_since += 1
        self.landed_since += len(landed)
        self.log.append(pressure)
        if len(landed):
            self.relabel()
        still = float((self.state != FREE).mean())
        if still * _SNAPSHOTS >= len(self.snapshots) + 1:
            self.snapshots.append((self.step, self.x.astype(np.float32)))
        self.tick(0.5 + 0.5 * still)
        return bool(len(landed))


def press_film(
    grid: SheetGrid,
    ground: LandingSurface,
    *,
    pressure_per_mm: float,
    frame_to_mm: float = 0.0,
    most_steps: int | None = None,
    tick: Callable[[float], None] | None = None,
) -> tuple[Formed, Reference]:
    """Drape by the upper hull, then press a film of even thickness into what is left.

    Parameters
    ----------
    grid, ground : the flat sheet and what it falls on
    pressure_per_mm : final pressure over the tension of the film, 1/mm: twice the reciprocal of the radius of
        the smallest cap, the reciprocal of that of the smallest arc
    frame_to_mm : height at which the frame comes to rest
    most_steps : limit of the number of steps; by default a bound from the distance to go
    tick : called at every step with the share done, 0 to 1

    Returns
    -------
    Formed, Reference : the run, and a reference that holds the volume of each triangle and no shape

    Notes
    -----
    A film has no stiffness against flow within itself, and under a given pressure it is unstable beyond half
    a sphere. So each step sweeps a given volume under each free region, and the pressure is whatever that
    needs.
    """
    film = _Film(grid, ground, frame_to_mm, tick or (lambda _share: None))
    way = float(np.ptp(ground.height)) + float(np.ptp(grid.nodes, axis=0).max())
    most = most_steps or film.step + math.ceil(_STEPS_A_CAP * way / film.cap)
    while film.step < most and film.places and film.load(pressure_per_mm):
        pass
    film.snapshots.append((film.step, film.x.astype(np.float32)))
    steps, pictures = zip(*film.snapshots, strict=True)
    here = reference(film.x, grid.triangles)
    ratio = film.volume / np.maximum(formed_area_mm2(film.x, grid.triangles), 1e-300)
    ref = replace(here, inverse=here.inverse / np.sqrt(ratio)[:, None], area_mm2=film.volume)
    return (
        Formed(
            grid=grid,
            rest=np.column_stack([grid.nodes, np.zeros(len(grid.nodes))]),
            points=film.x,
            state=film.state,
            touched=film.touched,
            turned=np.zeros(len(grid.triangles), np.bool_),
            pressure_per_mm=np.array(film.log),
            frame_mm=np.full(len(film.log), frame_to_mm),
            snapshots=np.stack(pictures),
            snapshot_steps=np.array(steps),
            forced=film.forced,
            factored=film.factored,
            stopped=f"stopped after {film.step} steps" if film.step >= most else "",
        ),
        ref,
    )
