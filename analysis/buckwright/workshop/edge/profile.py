"""A strip for a flexible filament that follows the edge in space: a flat band, or a channel over the edge."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.mesh.manifolds import from_manifold, to_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.workshop.edge.trim_curve import TrimCurve

__all__ = ["edge_profile", "wall_up"]

_STEP_MM = 3.0
_SPARE_MM = 0.02  # hulls reach into one another, so that rounding parts none
_THROUGH = (1.0, 0.3, 2.0, 0.6)  # the slot is cut so many legs beyond their ends: one that leaves no handle
_CRUMB_MM = 1e-3
_APART_MM = 5.0
_MOST_LEAN = 1.0  # a wall at 45 degrees is no wall any more

type Points = NDArray[np.float64]
type Block = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class PrintedEdge:
    """A printed edge.

    Attributes
    ----------
    mesh : one closed solid in the buck's frame, mm
    handles : openings through it besides the one round which it runs
    missed : (K, 3) places of the trim line where a leg is cut away, as the line turns too tightly
    """

    mesh: Mesh
    handles: int
    missed: Points

    @property
    def tight_mm(self) -> Points:
        """(M, 3) the first place of each run of such places."""
        if not len(self.missed):
            return self.missed
        steps = np.linalg.norm(np.diff(self.missed, axis=0), axis=1)
        found: Points = self.missed[np.append(True, steps > _APART_MM)]
        return found


def edge_profile(
    curve: TrimCurve,
    up: Points,
    *,
    kind: Literal["flat", "u"],
    leg_mm: float,
    wall_mm: float,
    room_mm: float,
) -> PrintedEdge:
    """Lead a section along the edge.

    Parameters
    ----------
    curve : the trim line
    up : (N, 3) unit vectors up the wall at its points
    kind : 'flat' for a band on the outer side, 'u' for a channel that is pushed on from below
    leg_mm, wall_mm : height of the section's legs, its thickness
    room_mm : between the sheet and each leg of a channel

    Returns
    -------
    PrintedEdge : one closed solid in the buck's frame

    Notes
    -----
    A rectangle is carried from one place of the edge to the next as the hull of both, and all are united; the
    slot of a channel is made likewise and cut out of the whole, so that no leg reaches across it where the
    edge turns sharply.
    """
    chosen = _chosen(curve.points)
    places, rise = curve.points[chosen], up[chosen]
    out = _square_to(rise, curve.outward[chosen])
    line = _Line(places, out, rise, curve.thickness_mm[chosen])
    if kind == "flat":
        made = _swept(line, lambda sheet: (sheet, sheet + wall_mm, 0.0, leg_mm))
        return _finished([made], line.places[:0])
    beside = room_mm + wall_mm
    body = _swept(line, lambda sheet: (-beside, sheet + beside, -wall_mm, leg_mm))

    def cut(through: float) -> Manifold:
        """The body with its slot, which goes on so many legs beyond them."""
        high = (1.0 + through) * leg_mm
        return body - _swept(line, lambda sheet: (-room_mm, sheet + room_mm, 0.0, high))

    return _finished(map(cut, _THROUGH), _without_leg(curve, room_mm, wall_mm))


def _finished(tried: Iterable[Manifold], missed: Points) -> PrintedEdge:
    """The first that is one ring, else the one with the fewest handles."""
    best: PrintedEdge | None = None
    for one in tried:
        # what else rounding leaves beside the largest piece is no strip
        solid = max(one.simplify(_CRUMB_MM).decompose(), key=lambda piece: piece.volume())
        mesh = from_manifold(solid)
        again = to_manifold(mesh)
        handles = abs(solid.genus() - 1) + (again is None or again.genus() != solid.genus())
        if best is None or handles < best.handles:
            best = PrintedEdge(mesh, handles, missed)
        if not best.handles:
            break
    assert best is not None
    return best


def _without_leg(curve: TrimCurve, room_mm: float, wall_mm: float) -> Points:
    """Places where the middle of a leg would stand in the slot of another place: there it is cut away."""
    places, out = curve.points, curve.outward
    sheet = curve.thickness_mm
    tree = cKDTree(places + out * (sheet / 2.0)[:, None])
    half = room_mm + sheet / 2.0
    missed = np.zeros(len(places), np.bool_)
    for by in (-(room_mm + wall_mm / 2.0), room_mm + wall_mm / 2.0):
        legs = places + out * (by + np.where(by > 0.0, sheet, 0.0))[:, None]
        near, which = tree.query(legs)
        missed |= near < half[which]
    return places[missed]


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """Places of the edge, unit vectors out of the part and up the wall there, and the sheet's thickness."""

    places: Points
    out: Points
    rise: Points
    sheet_mm: NDArray[np.float64]


def _swept(line: _Line, block: Callable[[float], Block]) -> Manifold:
    """A rectangle led along the line: the union of the hulls from each place to the next."""
    made = []
    count = len(line.places)
    for n in range(count):
        m = (n + 1) % count
        ahead = line.places[m] - line.places[n]
        spare = _SPARE_MM * ahead / max(float(np.linalg.norm(ahead)), 1e-9)
        corners = [
            _corners(block(float(line.sheet_mm[k])), line.places[k] + by, line.out[k], line.rise[k])
            for k, by in ((n, -spare), (m, spare))
        ]
        made.append(Manifold.hull_points(np.concatenate(corners)))
    return Manifold.batch_boolean(made, OpType.Add)


def wall_up(curve: TrimCurve, higher: TrimCurve | None) -> Points:
    """Unit vectors up the wall at the points of the trim line.

    Parameters
    ----------
    curve : the trim line
    higher : a ring a little further up; None for an upright wall

    Returns
    -------
    (N, 3) float64, square to the line; upright where the rings are too unlike to tell
    """
    straight = np.tile([0.0, 0.0, 1.0], (len(curve.points), 1))
    if higher is None:
        return straight
    near = cKDTree(higher.points).query(curve.points)[1]
    up = higher.points[near] - curve.points
    lean = np.einsum("nk,nk->n", up, curve.outward)
    rise = up[:, 2]
    leaning = np.clip(lean / np.maximum(rise, 1e-9), -_MOST_LEAN, _MOST_LEAN)
    found: Points = straight + leaning[:, None] * curve.outward
    return found / np.linalg.norm(found, axis=1)[:, None]


def _square_to(rise: Points, out: Points) -> Points:
    square = out - np.einsum("nk,nk->n", out, rise)[:, None] * rise
    found: Points = square / np.linalg.norm(square, axis=1)[:, None]
    return found


def _chosen(ring: Points) -> NDArray[np.int64]:
    """Every few points, and all where the ring turns."""
    ahead = np.roll(ring, -1, axis=0) - ring
    ahead /= np.maximum(np.linalg.norm(ahead, axis=1), 1e-12)[:, None]
    steps = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1)
    turned = np.arccos(np.clip((ahead * np.roll(ahead, 1, axis=0)).sum(axis=1), -1.0, 1.0))
    spent = np.cumsum(steps / _STEP_MM + turned / 0.15)
    return np.unique(np.floor(spent), return_index=True)[1]


def _corners(block: Block, place: Points, out: Points, rise: Points) -> Points:
    """The four corners of a block at a place of the edge."""
    near, far, low, high = block
    return np.array([place + a * out + b * rise for a in (near, far) for b in (low, high)])
