"""The finished buck: everything cut out of the blank, as a solid and as files hold it."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import Manifold

from buckwright.mesh.adjacency import is_closed_and_oriented
from buckwright.mesh.crossings import Crossings, find_crossings
from buckwright.output.storable import StoredMesh

__all__ = ["Buck", "figures_of"]

# Files hold single precision: corners move by 1e-5 mm, and where slivers meet they cross by ten times that.
_FILE_DEPTH_MM = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Buck:
    """The buck.

    Attributes
    ----------
    solid : standing on z = 0, mm
    stored : its triangles as files hold them
    figures : of the stored triangles: faces, size_mm, volume_mm3, watertight, crossing_pairs,
        crossing_at_mm; and tunnels
    """

    solid: Manifold
    stored: StoredMesh
    figures: dict[str, Any]


def figures_of(stored: StoredMesh, solid: Manifold) -> dict[str, Any]:
    """Figures of the buck as its files hold it.

    Parameters
    ----------
    stored : its triangles, mm
    solid : the same as a solid

    Returns
    -------
    dict : faces, size_mm (3,), volume_mm3, watertight, crossing_pairs, crossing_at_mm (where the deepest
        crossing is, None without one), tunnels
    """
    crossings = find_crossings(stored, deeper_than_mm=_FILE_DEPTH_MM)
    return {
        "faces": stored.face_count,
        "size_mm": stored.size,
        "volume_mm3": stored.volume_mm3(),
        "watertight": is_closed_and_oriented(stored.faces),
        "crossing_pairs": crossings.count,
        "crossing_at_mm": _deepest(stored, crossings),
        "tunnels": solid.genus(),
    }


def _deepest(mesh: StoredMesh, crossings: Crossings) -> list[float] | None:
    """The middle of the smaller face of the pair that crosses deepest, mm."""
    if not crossings.count:
        return None
    corners = mesh.vertices[mesh.faces[crossings.pairs[crossings.depth_mm.argmax()]]]
    x, y, z = corners[np.ptp(corners, axis=1).max(axis=1).argmin()].mean(axis=0)
    return [float(x), float(y), float(z)]
