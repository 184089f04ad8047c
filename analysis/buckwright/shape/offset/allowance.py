"""Allowances: shrinkage of the sheet, and the buck offset inwards where the part's outside must hold size."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph
from scipy.spatial import cKDTree

from buckwright.errors import JobError
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.triangles import Mesh
from buckwright.shape.offset.face_planes import (
    corner_planes,
    flipped_faces,
    plane_gaps,
    ramp,
    settle,
    solve_corners,
)

__all__ = ["Offset", "Place", "joined_vertices", "offset_inward", "offset_outward", "shrink_scale"]

LONGEST = 6.0
"""A corner moves at most this many offsets (an apex with a half angle of 9.6 degrees); house rule."""
THIN = 0.45
"""Opposite walls each move at most this share of their thickness, so that a tenth of it stays solid."""
RISE = 0.5
"""Neighbouring moves differ by at most half the length of the edge between them; house rule."""
ROUNDS, SWEEPS = 12, 40
"""Rounds of sweeps that let flipped faces unfold, as long as each round unfolds some; house rule."""
TELLING = 0.1
"""A place is reported where more than this share of the offset, and 0.02 mm, is missing; house rule."""


@dataclass(frozen=True, slots=True)
class Place:
    """A connected patch where the offset could not be made in full.

    Attributes
    ----------
    centre_mm : (x, y, z)
    area_mm2 : area of the patch
    shortfall_mm : greatest amount by which the surface stays proud of where it should be
    """

    centre_mm: tuple[float, float, float]
    area_mm2: float
    shortfall_mm: float

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes, rounded
        """
        return {
            "centre_mm": [round(value, 3) for value in self.centre_mm],
            "area_mm2": round(self.area_mm2, 4),
            "shortfall_mm": round(self.shortfall_mm, 4),
        }


@dataclass(frozen=True, slots=True, eq=False)
class Offset:
    """A mesh moved inwards, with what could not be done.

    Attributes
    ----------
    mesh : the moved mesh; same faces in the same order
    distance_mm : wanted offset
    shortfall_mm : (V,) how far each vertex stays proud of the wanted planes of its faces, >= 0
    places : patches that fall short, worst first
    crossings : pairs of faces that cross after the offset and did not before (0 unless noted)
    notes : plain words
    """

    mesh: Mesh
    distance_mm: float
    shortfall_mm: NDArray[np.float64]
    places: tuple[Place, ...]
    crossings: int
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json; the twenty worst places.

        Returns
        -------
        dict : distance, greatest shortfall, places, crossings and notes
        """
        return {
            "distance_mm": self.distance_mm,
            "greatest_shortfall_mm": round(float(self.shortfall_mm.max(initial=0.0)), 4),
            "places": [place.to_dict() for place in self.places[:20]],
            "crossings": self.crossings,
            "notes": list(self.notes),
        }


def shrink_scale(shrinkage: float) -> float:
    """Scale from part to buck, 1 / (1 - s), for a linear shrinkage s.

    Parameters
    ----------
    shrinkage : ratio, 0..0.2 (0.006 is 0.6 %)

    Returns
    -------
    float : >= 1

    Raises
    ------
    JobError
        Not between 0 and 0.2.

    Examples
    --------
    >>> round(shrink_scale(0.006), 6)
    1.006036
    """
    if not 0 <= shrinkage <= 0.2:
        raise JobError(f"shrinkage is a ratio between 0 and 0.2 (0.006 is 0.6 %), got {shrinkage:g}")
    return 1.0 / (1.0 - shrinkage)


def offset_inward(
    mesh: Mesh,
    distance_mm: float,
    *,
    still: NDArray[np.bool_] | None = None,
    portion: NDArray[np.float64] | None = None,
    tick: Callable[[float], None] | None = None,
) -> Offset:
    """Move every face inwards by the same distance along its own normal.

    Parameters
    ----------
    mesh : Mesh
        Closed or open, wound outward, without self-crossings.
    distance_mm : float, >= 0
    still : (F,) bool, optional
        Faces whose plane stays (the flat foot); the walls slide along it.
    portion : (V,) float64, optional
        Share of the distance, 0..1, that is wanted at each vertex; all of it where left out.
    tick : callable, optional
        Called with the share done, 0..1.

    Returns
    -------
    Offset : the moved mesh, and where the offset falls short

    Raises
    ------
    JobError
        A distance that is negative or not finite, or `still` of another length than the faces.

    Notes
    -----
    Each vertex solves n_i . d = -t for the planes of its faces (area-weighted least squares, nearest to the
    mean normal where the planes leave it free): exact on wedges, cones and boxes. Where faces would flip, the
    vertices around first slide along their planes to make room (Gauss-Seidel sweeps towards the mean move of
    the neighbours), then move less. Opposite walls each move at most 0.45 of the thickness between them. What
    still crosses is damped place by place until nothing does. Linear time except for the search tree (F log
    F).
    """
    if not (np.isfinite(distance_mm) and distance_mm >= 0):
        raise JobError(f"the offset must be 0 or more, got {distance_mm:g} mm")
    fixed = np.zeros(mesh.face_count, np.bool_) if still is None else np.asarray(still, dtype=np.bool_)
    if fixed.shape != (mesh.face_count,):
        raise JobError(f"`still` must name every face: expected {mesh.face_count}, got {fixed.shape}")
    told = tick or (lambda _share: None)
    if distance_mm == 0 or not mesh.face_count:
        return Offset(mesh, float(distance_mm), np.zeros(mesh.vertex_count), (), 0, ())
    wanted = np.where(fixed, 0.0, distance_mm)
    planes = corner_planes(mesh.vertices, mesh.faces, wanted)
    move = solve_corners(planes, LONGEST * distance_mm)
    told(0.2)
    joined = cache(lambda: joined_vertices(mesh))
    move = _make_room(mesh, planes, move, distance_mm, joined)
    told(0.4)
    share = _thin_walls(mesh, planes, move, distance_mm)
    if portion is not None:
        share = np.minimum(share, portion)
        wanted = wanted * portion[mesh.faces].min(axis=1)
    calm = _Calm(mesh, move, joined, RISE / distance_mm)
    share = calm.without_flips(calm.ramped(share))
    told(0.6)
    share, crossings = calm.without_crossings(share, told)
    moved = Mesh(mesh.vertices + share[:, None] * move, mesh.faces)
    shortfall = plane_gaps(mesh.vertices, mesh.faces, wanted, share[:, None] * move)
    places = _places(mesh, shortfall, max(TELLING * distance_mm, 0.02))
    told(1.0)
    return Offset(
        moved, float(distance_mm), shortfall, places, crossings, _notes(places, crossings, distance_mm)
    )


def offset_outward(
    mesh: Mesh,
    distance_mm: float,
    *,
    still: NDArray[np.bool_] | None = None,
    portion: NDArray[np.float64] | None = None,
    tick: Callable[[float], None] | None = None,
) -> Offset:
    """Move every face outwards by the same distance along its own normal.

    Parameters and errors are those of `offset_inward`. What lies outside is offset inwards: slots narrower
    than twice the distance close no further than that method lets a wall shrink.
    """
    turned = offset_inward(_inside_out(mesh), distance_mm, still=still, portion=portion, tick=tick)
    return replace(turned, mesh=_inside_out(turned.mesh))


def _inside_out(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices, np.ascontiguousarray(mesh.faces[:, ::-1]))


def joined_vertices(mesh: Mesh) -> sparse.csr_array:
    """Which vertices share an edge.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    (V, V) sparse pattern of ones
    """
    count = mesh.vertex_count
    start = mesh.faces.ravel()
    end = mesh.faces[:, [1, 2, 0]].ravel()
    ones = np.ones(len(start), np.float64)
    both = sparse.csr_array((ones, (start, end)), shape=(count, count))
    joined = sparse.csr_array(both + both.T)
    joined.data[:] = 1.0
    return joined


def _make_room(
    mesh: Mesh,
    planes: NDArray[np.float64],
    move: NDArray[np.float64],
    distance_mm: float,
    joined: Callable[[], sparse.csr_array],
) -> NDArray[np.float64]:
    """Let vertices near flipped faces slide along their planes until the faces have room."""
    bad = flipped_faces(mesh.vertices, mesh.faces, mesh.vertices + move)
    if not bad.any():
        return move
    near = np.zeros(mesh.vertex_count)
    near[mesh.faces[bad]] = 1.0
    sides = mesh.corners()[bad]
    edge = float(np.median(np.linalg.norm(np.roll(sides, 1, axis=1) - sides, axis=2)))
    rings = int(np.clip(np.ceil(3.0 * distance_mm / max(edge, 1e-6)) + 2, 3, 16))
    edges = joined()
    for _ in range(rings):
        near = np.minimum(near + edges @ near, 1.0)
    active = np.flatnonzero(near > 0)
    best, fewest, slid = move, int(np.count_nonzero(bad)), move
    for _ in range(ROUNDS):
        slid = settle(planes, slid, active, edges.indptr, edges.indices, SWEEPS, LONGEST * distance_mm)
        left = int(np.count_nonzero(flipped_faces(mesh.vertices, mesh.faces, mesh.vertices + slid)))
        if left >= fewest:
            break
        best, fewest = slid, left
        if not left:
            break
    return best


def _thin_walls(
    mesh: Mesh, planes: NDArray[np.float64], move: NDArray[np.float64], distance_mm: float
) -> NDArray[np.float64]:
    """Share of the move that opposite walls allow each vertex, (V,), 1 where there is room."""
    inward = -planes[:, 6:9]
    length = np.linalg.norm(inward, axis=1)
    facing = np.divide(inward, length[:, None], out=np.zeros_like(inward), where=length[:, None] > 0)
    tree = cKDTree(mesh.vertices, leafsize=24, balanced_tree=False, compact_nodes=False)
    centre = mesh.vertices + distance_mm * facing
    share = np.ones(mesh.vertex_count)
    found = tree.query(centre, distance_upper_bound=0.98 * distance_mm, workers=-1)[1]
    near = np.asarray(found, dtype=np.int64)
    hit = np.flatnonzero(near < mesh.vertex_count)
    opposite = (facing[hit] * facing[near[hit]]).sum(1) < -0.3
    hit, other = hit[opposite], near[hit[opposite]]
    between = ((mesh.vertices[other] - mesh.vertices[hit]) * facing[hit]).sum(1)
    across = np.linalg.norm((facing[hit] * move[hit]).sum(1, keepdims=True), axis=1)
    share[hit] = np.clip(THIN * between / np.maximum(across, 1e-12), 0.0, 1.0)
    return share


@dataclass(frozen=True, slots=True, eq=False)
class _Calm:
    """Lowers the share of the move that each vertex makes, until nothing flips or crosses."""

    mesh: Mesh
    move: NDArray[np.float64]
    joined: Callable[[], sparse.csr_array]
    per_mm: float

    def moved(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
        """Vertices after their share of the move."""
        return self.mesh.vertices + share[:, None] * self.move

    def ramped(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
        """Shares that rise gently, so that lowering one does not fold the faces beside it."""
        if share.min(initial=1.0) >= 1.0:
            return share
        edges = self.joined()
        return ramp(self.mesh.vertices, share, edges.indptr, edges.indices, self.per_mm)

    def damped(
        self, share: NDArray[np.float64], bad: NDArray[np.bool_], factor: float
    ) -> NDArray[np.float64]:
        """Lower the shares at the corners of bad faces, and around them as far as needed."""
        lower = share.copy()
        corners = np.unique(self.mesh.faces[bad])
        lower[corners] *= factor
        return self.ramped(lower)

    def without_flips(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
        """Damp around flipped faces until none is left."""
        for round_ in range(30):
            bad = flipped_faces(self.mesh.vertices, self.mesh.faces, self.moved(share))
            if not bad.any():
                break
            share = self.damped(share, bad, 0.7 if round_ < 20 else 0.0)
        return share

    def without_crossings(
        self, share: NDArray[np.float64], told: Callable[[float], None]
    ) -> tuple[NDArray[np.float64], int]:
        """Damp crossing faces; also the number of crossings that remain, less those that existed before."""
        for round_ in range(8):
            found = find_crossings(Mesh(self.moved(share), self.mesh.faces))
            told(0.6 + 0.05 * round_)
            if not found.count:
                return share, 0
            bad = np.zeros(self.mesh.face_count, np.bool_)
            bad[found.pairs.ravel()] = True
            share = self.without_flips(self.damped(share, bad, 0.6 if round_ < 5 else 0.0))
        left = find_crossings(Mesh(self.moved(share), self.mesh.faces)).count
        return share, max(0, left - find_crossings(self.mesh).count) if left else 0


def _places(mesh: Mesh, shortfall: NDArray[np.float64], least_mm: float) -> tuple[Place, ...]:
    short = shortfall > least_mm
    faces = mesh.faces[short[mesh.faces].sum(axis=1) >= 1]
    if not len(faces):
        return ()
    number = np.full(mesh.vertex_count, -1, np.int64)
    used = np.unique(faces)
    number[used] = np.arange(len(used))
    local = number[faces]
    start, end = local[:, [0, 1]].ravel(), local[:, [1, 2]].ravel()
    graph = sparse.coo_array((np.ones(len(start)), (start, end)), shape=(len(used), len(used)))
    count, label = csgraph.connected_components(graph, directed=False)
    patch = label[local[:, 0]]
    part = Mesh(mesh.vertices, faces)
    area = part.areas()
    total = np.bincount(patch, area, count)
    middle = [
        np.bincount(patch, area * part.centroids()[:, k], count) / np.maximum(total, 1e-12) for k in range(3)
    ]
    worst = np.zeros(count)
    np.maximum.at(worst, label, shortfall[used])
    places = [
        Place((float(x), float(y), float(z)), float(a), float(w))
        for x, y, z, a, w in zip(*middle, total, worst)
    ]
    return tuple(sorted(places, key=lambda place: (-place.shortfall_mm, place.centre_mm)))


def _notes(places: tuple[Place, ...], crossings: int, distance_mm: float) -> tuple[str, ...]:
    notes = []
    if places:
        area = sum(place.area_mm2 for place in places)
        x, y, z = places[0].centre_mm
        notes.append(
            f"the offset of {distance_mm:.2f} mm falls short at {len(places)} places ({area:.0f} mm2), "
            f"by up to {places[0].shortfall_mm:.2f} mm at {x:.0f}, {y:.0f}, {z:.0f}: "
            "edges or walls there are too thin for it"
        )
    if crossings:
        notes.append(
            f"{crossings} pairs of faces cross after the offset: repair the buck or use a smaller offset"
        )
    return tuple(notes)
