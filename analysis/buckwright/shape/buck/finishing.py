"""The finished buck: everything cut out of the blank, as a solid and as files hold it."""

from dataclasses import dataclass
from typing import Any

from manifold3d import Manifold

from buckwright.mesh.adjacency import is_closed_and_oriented
from buckwright.mesh.crossings import find_crossings
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
    figures : of the stored triangles: faces, size_mm, volume_mm3, watertight, crossing_pairs; and tunnels
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
    dict : faces, size_mm (3,), volume_mm3, watertight, crossing_pairs, tunnels
    """
    return {
        "faces": stored.face_count,
        "size_mm": stored.size,
        "volume_mm3": stored.volume_mm3(),
        "watertight": is_closed_and_oriented(stored.faces),
        "crossing_pairs": find_crossings(stored, deeper_than_mm=_FILE_DEPTH_MM).count,
        "tunnels": solid.genus(),
    }
