"""Growing to clearance: the surface moved outwards as far as it lies too near to a body."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.gaps import gaps_to
from buckwright.mesh.splitting import cut_faces
from buckwright.mesh.triangles import Mesh
from buckwright.shape.offset.allowance import Offset, offset_outward
from buckwright.shape.offset.spreading import spread_out

__all__ = ["MOST_MM", "Growth", "grow"]

# After so many rounds what is still missing is told; each measures anew, as a wall that looks past the body
# gains less than it moves. House rule.
_ROUNDS = 4
_ENOUGH_MM = 0.02
# No shape is grown by more: a body that comes through the wall is not to be wrapped. House rule.
MOST_MM = 30.0
_SAMPLES = 120


@dataclass(frozen=True, slots=True, eq=False)
class Growth:
    """A surface that was moved outwards.

    Attributes
    ----------
    offset : the moved mesh
    before_mm, after_mm : least distance of the part from the body
    most_mm : greatest distance by which the surface was to move
    share : of the area that moved by more than 0.02 mm
    room_mm : the distance that was wanted
    """

    offset: Offset
    before_mm: float
    after_mm: float
    most_mm: float
    share: float
    room_mm: float

    def to_dict(self) -> dict[str, Any]:
        """The entry `clearance.grown` of the report."""
        return {
            "before_mm": self.before_mm,
            "after_mm": self.after_mm,
            "most_mm": self.most_mm,
            "area_share": self.share,
        }


def grow(
    mesh: Mesh,
    body: Mesh,
    room_mm: float,
    *,
    skin_mm: float = 0.0,
    all_round: bool,
    still: NDArray[np.bool_],
    above_mm: float = -np.inf,
    tick: Callable[[float], None],
) -> Growth:
    """Move a closed surface outwards until it keeps a distance from the body inside of it.

    Parameters
    ----------
    mesh : closed, wound outward, mm
    body : mm
    room_mm : wanted least distance of the part
    skin_mm : thickness by which the buck is made smaller than the surface afterwards
    all_round : move every face by the most that any lacks; else each as far as it lacks itself, fading beside
    still : (F,) bool, faces that stay (the flat foot)
    above_mm : what lies lower is cut off later and not asked about
    tick : called with the share done, 0..1; may raise to stop

    Returns
    -------
    Growth

    Notes
    -----
    Measured at vertices and at parts of large faces. A face moves along its own normal, so that it gains at
    most what it moves; what is missing after a round is added in the next.
    """
    asked, whole = _Asked.of(mesh, still, above_mm), room_mm + skin_mm
    lack = np.clip(whole - asked.nearest(mesh, body, whole), 0.0, None)
    before = room_mm - float(lack.max(initial=0.0))
    wanted, offset = np.zeros(mesh.vertex_count), Offset(mesh, 0.0, np.zeros(mesh.vertex_count), (), 0, ())
    after = before
    for round_ in range(_ROUNDS):
        if float(lack.max(initial=0.0)) <= _ENOUGH_MM:
            break
        more = _grown(mesh, wanted, lack, all_round=all_round)
        most = float(more.max())
        told = _within(tick, round_)
        made = offset_outward(mesh, most, still=still, portion=more / most, tick=told)
        now = np.clip(whole - asked.nearest(made.mesh, body, whole), 0.0, None)
        reached = room_mm - float(now.max(initial=0.0))
        if round_ and reached <= after:
            break
        wanted, lack, offset, after = more, now, made, reached
    areas = mesh.areas()
    moved = (wanted[mesh.faces].max(axis=1) > _ENOUGH_MM) & ~still
    share = float(areas[moved].sum() / max(float(areas[~still].sum()), 1e-12))
    return Growth(offset, before, after, float(wanted.max(initial=0.0)), share, room_mm)


def _within(tick: Callable[[float], None], round_: int) -> Callable[[float], None]:
    return lambda share: tick((round_ + share) / _ROUNDS)


def _grown(
    mesh: Mesh, wanted: NDArray[np.float64], lack: NDArray[np.float64], *, all_round: bool
) -> NDArray[np.float64]:
    """Distances (V,) that vertices are to move in all, from what faces (F,) still lack; they fade beside."""
    corners = np.zeros(mesh.vertex_count)
    for k in range(3):
        np.maximum.at(corners, mesh.faces[:, k], lack)
    more = np.minimum(wanted + corners, MOST_MM)
    return np.full(mesh.vertex_count, more.max()) if all_round else spread_out(mesh, more)


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """Where the distance is measured: at vertices, and in parts of large faces by their share of corners."""

    face: NDArray[np.int64]
    shares: NDArray[np.float64]
    corners: NDArray[np.int64]

    @classmethod
    def of(cls, mesh: Mesh, still: NDArray[np.bool_], above_mm: float) -> "_Asked":
        """Places on the faces that may move and are kept."""
        looked = ~still & (mesh.corners()[:, :, 2].max(axis=1) > above_mm)
        fine = float(np.linalg.norm(mesh.size)) / _SAMPLES
        cut, source = cut_faces(mesh, looked, over_mm=fine)
        places = cut.centroids()
        kept = looked[source] & (places[:, 2] >= above_mm)
        face = source[kept]
        used = np.unique(mesh.faces[looked])
        return cls(
            face, _shares(places[kept], mesh.corners()[face]), used[mesh.vertices[used, 2] >= above_mm]
        )

    def nearest(self, mesh: Mesh, body: Mesh, most_mm: float) -> NDArray[np.float64]:
        """Least distance of each face, (F,); infinite where it is not asked about."""
        found = np.full(mesh.face_count, np.inf)
        places = np.einsum("nk,nkd->nd", self.shares, mesh.corners()[self.face])
        np.minimum.at(found, self.face, gaps_to(places, body, most_mm=most_mm))
        corners = np.full(mesh.vertex_count, np.inf)
        corners[self.corners] = gaps_to(mesh.vertices[self.corners], body, most_mm=most_mm)
        nearest: NDArray[np.float64] = np.minimum(found, corners[mesh.faces].min(axis=1))
        return nearest


def _shares(places: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shares (N, 3) of the corners (N, 3, 3) of triangles in places on them."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    p = places - corners[:, 0]
    aa, ab, bb, pa, pb = (np.einsum("nd,nd->n", x, y) for x, y in ((a, a), (a, b), (b, b), (p, a), (p, b)))
    scale = np.maximum(aa * bb - ab * ab, 1e-30)
    v, w = (bb * pa - ab * pb) / scale, (aa * pb - ab * pa) / scale
    return np.column_stack([1.0 - v - w, v, w])
