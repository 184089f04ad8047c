"""The rims of a sculpt: edges from which the walls of the draft fill hang."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array

from buckwright.mesh.adjacency import EdgeTable, edge_table
from buckwright.mesh.splitting import cut_faces
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.cones import ConeField

__all__ = ["Rims", "find_rims"]

# Projected to plan a vertical wall degenerates to its edge; use the other face to find 'outward'.
_PLUMB_DEG = 0.05
_PIECE_SHARE = 1.0 / 100.0
"""Edges longer than this share of the sculpt's size are looked at piece by piece: house rule."""
_ALONG = (0.02, 0.5, 0.98)
"""Where a piece is asked whether it is seen: near both ends and in the middle. One that is seen in part
counts: what is hidden of it lies under a higher edge, whose cone covers its own."""


@dataclass(frozen=True, slots=True, eq=False)
class Rims:
    """Edges between a face with enough draft and one without, as far as they matter.

    Attributes
    ----------
    segments : (S, 6) float64, both ends of each edge, mm
    outward : (S, 2) float64, unit vectors in plan, away from the side that has enough draft
    leaning : (S,) bool, whether the poor face overhangs, so that there is a void beneath the rim
    gap_mm : largest sideways gap under the rims that were kept and those that were dropped, (kept, dropped)
    """

    segments: NDArray[np.float64]
    outward: NDArray[np.float64]
    leaning: NDArray[np.bool_]
    gap_mm: tuple[float, float]


def find_rims(
    mesh: Mesh,
    columns: Columns,
    draft_deg: NDArray[np.float64],
    *,
    enough_deg: float,
    wall_deg: float,
    tolerance_mm: float,
    wanted_faces: NDArray[np.bool_] | None = None,
) -> Rims:
    """Find the edges from which a wall of fill must run down.

    Parameters
    ----------
    mesh, columns : the sculpt in the pull frame and its columns
    draft_deg : (F,) float64, draft of every face, degrees
    enough_deg : a face with this draft needs no fill (0 where tight faces are left alone)
    wall_deg : draft of the walls of fill, degrees
    tolerance_mm : rims under which the solid recedes sideways by less than this are left alone
    wanted_faces : (F,) bool, only rims over these faces count; all by default

    Returns
    -------
    Rims : the edges kept; of a long one, the pieces that count

    Notes
    -----
    The greatest of z_p - |x - p| / tan(draft) over a surface is taken on an edge with a flat enough face on
    one side and a too steep or overhanging one on the other (or at x itself): on a face flatter than the cone
    the value rises towards x, on a steeper one it rises uphill. So only those edges are sources. Noise makes
    many of them; one counts if somewhere below it the solid recedes by more than the tolerance, or if it is
    within three edges of one that does. Large faces are cut first, so that neither question hangs on one
    point of a long edge.
    """
    stands = _stands(mesh, columns)
    mesh, source = cut_faces(mesh, stands, over_mm=_PIECE_SHARE * float(mesh.size.max(initial=0.0)))
    draft_deg = draft_deg[source]
    wanted_faces = None if wanted_faces is None else wanted_faces[source]
    table = edge_table(mesh.faces)
    edges, good_face, poor_face = _edges_at_rim(table, draft_deg, enough_deg)
    if wanted_faces is not None:
        chosen = wanted_faces[poor_face]
        edges, good_face, poor_face = edges[chosen], good_face[chosen], poor_face[chosen]
    ends = mesh.vertices[edges]
    outward = _outward(mesh, ends, np.where(draft_deg[good_face] < _PLUMB_DEG, poor_face, good_face))
    seen = _seen(columns, ends, outward, tolerance_mm)
    edges, good_face, poor_face = edges[seen], good_face[seen], poor_face[seen]
    ends, outward = ends[seen], outward[seen]
    segments = ends.reshape(-1, 6)
    gap = _sideways_gap(mesh, columns, draft_deg, segments, enough_deg=enough_deg, wall_deg=wall_deg)
    gap = np.maximum(gap, _overhang(columns, ends.mean(axis=1), outward, tolerance_mm))
    kept = _spread(gap > tolerance_mm, edges, mesh.vertex_count, rings=3)
    gaps = (float(gap[kept].max(initial=0.0)), float(gap[~kept].max(initial=0.0)))
    of_edge = source[good_face] * (source.max(initial=0) + 1) + source[poor_face]
    joined, first = _joined(ends[kept], of_edge[kept])
    leaning = draft_deg[poor_face] < 0.0
    return Rims(joined.reshape(-1, 6), outward[kept][first], leaning[kept][first], gaps)


def _joined(
    ends: NDArray[np.float64], of_edge: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Join pieces (N, 2, 3) of one edge that follow each other; runs (M, 2, 3) and a piece of each."""
    if not len(ends):
        return ends, np.zeros(0, np.int64)
    _, first, group = np.unique(of_edge, return_index=True, return_inverse=True)
    way = (ends[:, 1] - ends[:, 0])[first][group]
    along = np.einsum("nkx,nx->nk", ends, way)
    ends = np.take_along_axis(ends, np.argsort(along, axis=1)[..., None], axis=1)
    order = np.lexsort((along.min(axis=1), group))
    ends, group = ends[order], group[order]
    begins = np.ones(len(ends), np.bool_)
    begins[1:] = (group[1:] != group[:-1]) | (ends[1:, 0] != ends[:-1, 1]).any(axis=1)
    start = np.flatnonzero(begins)
    stop = np.append(start[1:], len(ends)) - 1
    return np.stack([ends[start, 0], ends[stop, 1]], axis=1), order[start]


def _edges_at_rim(
    table: EdgeTable, draft_deg: NDArray[np.float64], enough_deg: float
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]:
    """Edges with one good and one poor face, and those two faces."""
    paired = table.faces[:, 1] >= 0
    edges, faces = table.edges[paired], table.faces[paired]
    good = draft_deg[faces] >= enough_deg
    rim = good[:, 0] != good[:, 1]
    edges, faces, good = edges[rim], faces[rim], good[rim]
    first = good[:, 0]
    return edges, np.where(first, faces[:, 0], faces[:, 1]), np.where(first, faces[:, 1], faces[:, 0])


def _seen(
    columns: Columns, ends: NDArray[np.float64], outward: NDArray[np.float64], tolerance_mm: float
) -> NDArray[np.bool_]:
    """Edges above the foot with open sky over any of the places asked."""
    # Sampled slightly outside: exactly on the lower edge of an upright wall it is chance whether the wall's
    # upper edge is found above.
    aside = np.column_stack([outward * tolerance_mm, np.zeros(len(ends))])
    seen = np.zeros(len(ends), np.bool_)
    for share in _ALONG:
        hidden = np.flatnonzero(~seen)
        at = ends[hidden, 0] * (1.0 - share) + ends[hidden, 1] * share
        seen[hidden] = columns.clear(at + aside[hidden]) & (at[:, 2] > columns.slack_mm)
    return seen


def _stands(mesh: Mesh, columns: Columns) -> NDArray[np.bool_]:
    """Faces that are not wholly on the foot."""
    above: NDArray[np.bool_] = mesh.vertices[:, 2][mesh.faces].max(axis=1, initial=-np.inf) > columns.slack_mm
    return above


def _sideways_gap(
    mesh: Mesh,
    columns: Columns,
    draft_deg: NDArray[np.float64],
    segments: NDArray[np.float64],
    *,
    enough_deg: float,
    wall_deg: float,
) -> NDArray[np.float64]:
    """How far the poor faces under each segment recede behind its cone, measured at their vertices."""
    field = ConeField(segments, draft_deg=wall_deg)
    points = mesh.vertices[np.unique(mesh.faces[(draft_deg < enough_deg) & _stands(mesh, columns)])]
    height, source = field.evaluate(points, at_least=points[:, 2])
    gap = np.zeros(len(segments))
    hit = source >= 0
    np.maximum.at(gap, field.order[source[hit]], (height[hit] - points[hit, 2]) / field.steepness)
    return gap


def _outward(mesh: Mesh, ends: NDArray[np.float64], inner_face: NDArray[np.int32]) -> NDArray[np.float64]:
    """Unit vectors in plan across each edge, away from the given face."""
    along = ends[:, 1, :2] - ends[:, 0, :2]
    across = np.column_stack([along[:, 1], -along[:, 0]])
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-30)[:, None]
    body = mesh.vertices[mesh.faces[inner_face]].mean(axis=1)[:, :2] - ends.mean(axis=1)[:, :2]
    outward: NDArray[np.float64] = -across * np.sign(np.einsum("ij,ij->i", across, body))[:, None]
    return outward


def _overhang(
    columns: Columns, middle: NDArray[np.float64], outward: NDArray[np.float64], tolerance_mm: float
) -> NDArray[np.float64]:
    """2 x tolerance where there is a void under the rim within the tolerance, else 0."""
    inside = middle - np.column_stack([outward * tolerance_mm, np.zeros(len(middle))])
    inside[:, 2], _ = columns.top(inside[:, :2])
    under, _ = columns.below(inside)
    floor, _ = columns.below(np.column_stack([inside[:, :2], under]))
    void = np.where(np.isfinite(under), under - np.maximum(floor, 0.0), 0.0)
    return np.where((under > columns.slack_mm) & (void > tolerance_mm), 2.0 * tolerance_mm, 0.0)


def _spread(
    chosen: NDArray[np.bool_], edges: NDArray[np.int32], vertex_count: int, *, rings: int
) -> NDArray[np.bool_]:
    """Grow a selection of edges over edges that share a vertex."""
    rows = np.repeat(np.arange(len(edges)), 2)
    touch = coo_array(
        (np.ones(2 * len(edges)), (rows, edges.ravel())), shape=(len(edges), vertex_count)
    ).tocsr()
    grown = chosen.astype(np.float64)
    for _ in range(rings):
        grown = ((touch @ (touch.T @ grown)) > 0).astype(np.float64)
    spread: NDArray[np.bool_] = grown > 0
    return spread
