"""A strip for a flexible filament that follows the edge in space: a flat band, or a channel over the edge."""

from typing import Literal

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.workshop.edge.trim_curve import TrimCurve

__all__ = ["edge_profile", "wall_up"]

_STEP_MM = 3.0
_SPARE_MM = 0.02  # hulls reach into one another, so that rounding parts none
_MOST_LEAN = 1.0  # a wall at 45 degrees is no wall any more

type Points = NDArray[np.float64]
type Block = tuple[float, float, float, float]


def edge_profile(
    curve: TrimCurve,
    up: Points,
    *,
    kind: Literal["flat", "u"],
    leg_mm: float,
    wall_mm: float,
    room_mm: float,
) -> Mesh:
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
    Mesh : one closed solid in the buck's frame, mm

    Notes
    -----
    Each block of the section is carried from one place of the edge to the next as the hull of both, and all
    are united: a section that turns sharply may overlap itself without harm.
    """
    chosen = _chosen(curve.points)
    places, rise = curve.points[chosen], up[chosen]
    out = _square_to(rise, curve.outward[chosen])
    made = []
    for n in range(len(chosen)):
        m = (n + 1) % len(chosen)
        ahead = places[m] - places[n]
        spare = _SPARE_MM * ahead / max(float(np.linalg.norm(ahead)), 1e-9)
        thick = float(curve.thickness_mm[chosen[n]]), float(curve.thickness_mm[chosen[m]])
        for one, other in zip(*(_section(kind, t, leg_mm, wall_mm, room_mm) for t in thick), strict=True):
            corners = [
                _corners(block, places[k] + by, out[k], rise[k])
                for block, k, by in ((one, n, -spare), (other, m, spare))
            ]
            made.append(Manifold.hull_points(np.concatenate(corners)))
    return from_manifold(Manifold.batch_boolean(made, OpType.Add))


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


def _section(kind: str, sheet_mm: float, leg_mm: float, wall_mm: float, room_mm: float) -> tuple[Block, ...]:
    """Blocks (from, to outward; from, to up the wall); the inner side of the sheet is 0, the edge is 0."""
    if kind == "flat":
        return ((sheet_mm, sheet_mm + wall_mm, 0.0, leg_mm),)
    inner, outer = -room_mm, sheet_mm + room_mm
    return (
        (inner - wall_mm, inner, -wall_mm, leg_mm),
        (outer, outer + wall_mm, -wall_mm, leg_mm),
        (inner - wall_mm, outer + wall_mm, -wall_mm, 0.0),
    )


def _corners(block: Block, place: Points, out: Points, rise: Points) -> Points:
    """The four corners of a block at a place of the edge."""
    near, far, low, high = block
    return np.array([place + a * out + b * rise for a in (near, far) for b in (low, high)])
