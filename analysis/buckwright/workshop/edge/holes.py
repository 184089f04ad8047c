"""Holes that go into the part: where they lie on the buck, and how far from the edge."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import igl
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.mesh.triangles import Mesh

__all__ = ["HOLE_NAMES", "HoleKind", "PartHole", "edge_distances", "least_edge_mm", "placed_holes"]

type HoleKind = Literal["rivet", "slot", "fan"]
type Points = NDArray[np.float64]

HOLE_NAMES: dict[HoleKind, str] = {"rivet": "rivet hole", "slot": "strap slot", "fan": "fan hole"}

# Makers keep holes twice their diameter, at least 8 to 10 mm, from the edge (read); for a wide opening
# 10 mm of rim: house rule.
_LEAST_MM, _RIM_MM = 10.0, 10.0
_AROUND = 4  # corners of the edge to either side that tell its direction


@dataclass(frozen=True, slots=True, eq=False)
class PartHole:
    """A hole in the part.

    Attributes
    ----------
    kind : 'rivet', 'slot' or 'fan'
    at_mm, normal : (3,) its middle on the buck, and the unit vector out of the buck there
    along : (3,) unit vector along the edge in the buck's surface, the direction of a slot
    across_mm : diameter, or width of a slot
    length_mm : of a slot; the diameter of a round hole
    off_mm : how far the given place was from the buck
    """

    kind: HoleKind
    at_mm: Points
    normal: Points
    along: Points
    across_mm: float
    length_mm: float
    off_mm: float

    @property
    def drilled_mm(self) -> tuple[Points, ...]:
        """Where a drill is set: the middle, or both ends of a slot."""
        reach = (self.length_mm - self.across_mm) / 2.0
        if reach <= 0.0:
            return (self.at_mm,)
        return (self.at_mm - reach * self.along, self.at_mm + reach * self.along)

    @property
    def slope_deg(self) -> float:
        """How steep the buck is there: 0 level, 90 upright."""
        return float(np.degrees(np.arccos(np.clip(self.normal[2], -1.0, 1.0))))

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json."""
        return {
            "kind": self.kind,
            "at_mm": [float(v) for v in self.at_mm],
            "across_mm": self.across_mm,
            "length_mm": self.length_mm,
            "slope_deg": self.slope_deg,
        }


def placed_holes(
    buck: Mesh,
    wanted: Mapping[HoleKind, Points],
    sizes_mm: Mapping[HoleKind, tuple[float, float]],
    edge: Points,
) -> tuple[PartHole, ...]:
    """Set holes on the buck, each at the place of its surface that is nearest to what was asked.

    Parameters
    ----------
    buck : without vents, mm
    wanted : (N, 3) places in the buck's frame by kind, mm
    sizes_mm : length and width by kind
    edge : (K, 2) outline along which slots lie, mm

    Returns
    -------
    tuple of PartHole, in the order of the kinds and places
    """
    kinds = [kind for kind, places in wanted.items() for _ in places]
    if not kinds:
        return ()
    places = np.concatenate([np.asarray(one, np.float64).reshape(-1, 3) for one in wanted.values()])
    vertices = np.ascontiguousarray(buck.vertices, np.float64)
    square, faces, nearest = igl.point_mesh_squared_distance(
        places, vertices, np.ascontiguousarray(buck.faces, np.int64)
    )
    normals = _normals(buck, np.atleast_1d(faces))
    made = []
    for kind, at, normal, off in zip(kinds, nearest.reshape(-1, 3), normals, np.sqrt(np.atleast_1d(square))):
        length, width = sizes_mm[kind]
        along = _along(edge, at, normal)
        made.append(PartHole(kind, at, normal, along, width, max(length, width), float(off)))
    return tuple(made)


def _normals(buck: Mesh, faces: NDArray[np.integer]) -> Points:
    areas = buck.area_vectors()[faces]
    found: Points = areas / np.maximum(np.linalg.norm(areas, axis=1), 1e-30)[:, None]
    return found


def _along(edge: Points, at: Points, normal: Points) -> Points:
    """Direction of the nearest piece of the edge, laid into the surface."""
    ahead = np.roll(edge, -_AROUND, axis=0) - np.roll(edge, _AROUND, axis=0)
    x, y = ahead[int(np.linalg.norm(edge - at[:2], axis=1).argmin())]
    along = np.array([x, y, 0.0])
    along -= (along @ normal) * normal
    size = float(np.linalg.norm(along))
    return np.array([1.0, 0.0, 0.0]) if size < 1e-9 else along / size


def least_edge_mm(hole: PartHole) -> float:
    """How far from the edge the places where a hole is drilled must be, mm."""
    wide = hole.across_mm
    return max(_LEAST_MM, min(2.0 * wide, wide / 2.0 + _RIM_MM))


def edge_distances(
    holes: Sequence[PartHole], trim: Points, openings: Sequence[Points] = ()
) -> tuple[float, ...]:
    """Shortest way from where each hole is drilled to the nearest trim line; negative below the outer one.

    Parameters
    ----------
    holes : on the buck
    trim : (N, 3) float64, mm, the trim line all round
    openings : likewise, round openings

    Returns
    -------
    tuple of float, mm : straight, so short by a little where the wall bulges
    """
    tree, outer = cKDTree(np.concatenate([trim, *openings])), cKDTree(trim)
    found = []
    for hole in holes:
        places = np.array(hole.drilled_mm)
        way = float(np.min(tree.query(places)[0]))
        level = trim[outer.query(places)[1], 2]
        found.append(-way if (places[:, 2] < level).any() else way)
    return tuple(found)
