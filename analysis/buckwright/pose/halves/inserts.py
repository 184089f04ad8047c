"""Local deep undercuts: which way a loose insert would be drawn back, how large a bore takes one away."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.survey.surveying import Surveyed

__all__ = ["Insert", "inserts_for"]

# A place counts as deep from this movement on, and as local up to this share of the surface. House rules.
_DEEP_MM = 3.0
_LOCAL_SHARE = 0.1
_FREED = 0.9
_MOST = 3
_AROUND, _TILTS_DEG = 48, (0.0, 15.0, 30.0, 45.0)
_PLUMB = 1e-3


@dataclass(frozen=True, slots=True)
class Insert:
    """One deep undercut that could be freed by itself.

    Attributes
    ----------
    at_mm : its place in the pull frame
    sideways_mm, depth_mm : how far it reaches inwards, how deep under what lies over it
    area_mm2, volume_mm3 : its faces, and the room under it
    bore_mm : diameter of a bore down the pull that takes it away
    way : unit vector in the pull frame along which a loose insert is drawn back into the hollow of the part
    freed_share : of its area that comes off that way
    """

    at_mm: tuple[float, float, float]
    sideways_mm: float
    depth_mm: float
    area_mm2: float
    volume_mm3: float
    bore_mm: float
    way: tuple[float, float, float]
    freed_share: float

    @property
    def can_be_loose(self) -> bool:
        """Whether a loose insert frees nearly all of it."""
        return self.freed_share >= _FREED

    def to_dict(self) -> dict[str, Any]:
        """The entry of the report."""
        return {name: getattr(self, name) for name in self.__slots__}


def inserts_for(mesh: Mesh, surveyed: Surveyed) -> tuple[Insert, ...]:
    """Deep undercuts that are small enough to be freed one by one, the deepest first.

    Parameters
    ----------
    mesh : as it was surveyed, in the pull frame, mm
    surveyed : its survey

    Returns
    -------
    up to three

    Notes
    -----
    A loose insert is the piece of the buck that makes the undercut. It stays in the part when that is pulled
    off, and is then drawn back from the wall, sideways or up to 45 degrees downwards; what looks that way
    would hold it.
    """
    asked = surveyed.asked(mesh)
    most = _LOCAL_SHARE * float(asked.areas().sum())
    found = []
    judged = zip(surveyed.undercuts.regions, surveyed.releases, strict=True)
    for number, (region, release) in enumerate(judged):
        if release.verdict != "locked" or region.sideways_mm < _DEEP_MM or region.area_mm2 > most:
            continue
        own = Mesh(asked.vertices, asked.faces[surveyed.undercuts.region_of_face == number])
        way, share = _way_out(own.area_vectors(), own.areas())
        found.append(
            Insert(
                region.centre_mm,
                region.sideways_mm,
                region.depth_mm,
                region.area_mm2,
                region.volume_mm3,
                region.plan_diameter_mm,
                way,
                share,
            )
        )
    return tuple(sorted(found, key=lambda one: -one.sideways_mm)[:_MOST])


def _way_out(
    normals: NDArray[np.float64], areas: NDArray[np.float64]
) -> tuple[tuple[float, float, float], float]:
    """The way along which the most area comes off, and the share of it."""
    around = 2.0 * np.pi * np.arange(_AROUND) / _AROUND
    tilts = np.radians(_TILTS_DEG)
    ways = np.array(
        [(np.cos(tilt) * np.cos(a), np.cos(tilt) * np.sin(a), np.sin(tilt)) for tilt in tilts for a in around]
    )
    off = normals @ ways.T >= -_PLUMB * areas[:, None]
    shares = (areas[:, None] * off).sum(axis=0) / max(float(areas.sum()), 1e-12)
    # of ways that free the same, the one that most of the area looks along
    best = int(np.lexsort((normals.sum(axis=0) @ ways.T, np.round(shares, 6)))[-1])
    x, y, z = (float(part) for part in -ways[best])
    return (x, y, z), float(shares[best])
