"""Where a finished buck has less draft than wanted."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import shells
from buckwright.mesh.triangles import Mesh
from buckwright.survey.draft import DraftStates, FaceState

__all__ = ["DraftShortfall", "ShortPlace", "draft_shortfall"]

_SPARED_DEG = 0.5
"""So much less than wanted is let pass: walls of fill are cut into triangles. House rule."""


@dataclass(frozen=True, slots=True)
class ShortPlace:
    """Connected faces with too little draft.

    Attributes
    ----------
    area_mm2 : their area
    least_deg : their least draft, degrees
    centre_mm : middle of their area
    height_mm : from their lowest to their highest corner
    """

    area_mm2: float
    least_deg: float
    centre_mm: tuple[float, float, float]
    height_mm: float

    def to_dict(self, *, lift_mm: float) -> dict[str, Any]:
        """One entry of the report, heights counted from the platen.

        Parameters
        ----------
        lift_mm : how high the surveyed part stands over the platen

        Returns
        -------
        dict : area, least draft, middle and height
        """
        x, y, z = self.centre_mm
        return {
            "area_mm2": self.area_mm2,
            "least_deg": self.least_deg,
            "centre_mm": [x, y, z + lift_mm],
            "height_mm": self.height_mm,
        }


@dataclass(frozen=True, slots=True)
class DraftShortfall:
    """What has some draft, but too little.

    Attributes
    ----------
    wanted_deg : wanted draft, degrees
    places : the largest first
    area_mm2 : of all places
    share : of the judged surface, 0..1
    """

    wanted_deg: float
    places: tuple[ShortPlace, ...]
    area_mm2: float
    share: float


def draft_shortfall(
    mesh: Mesh, states: DraftStates, drafts_deg: NDArray[np.float64], *, speck_mm2: float = 1.0
) -> DraftShortfall:
    """Find the tight faces that fall short of the wanted draft by more than half a degree.

    Parameters
    ----------
    mesh : the part in the pull frame
    states : of its faces
    drafts_deg : (F,) float64, of its faces
    speck_mm2 : smaller places are left out

    Returns
    -------
    DraftShortfall

    Examples
    --------
    Each wall of a cube has no draft, and all four hang together:

    >>> import trimesh
    >>> from buckwright.survey.draft import draft_deg, draft_states
    >>> box = trimesh.creation.box((10.0, 10.0, 10.0))
    >>> cube = Mesh.from_arrays(box.vertices, box.faces)
    >>> drafts = draft_deg(cube)
    >>> found = draft_shortfall(cube, draft_states(cube, drafts, wanted_deg=3.0), drafts)
    >>> len(found.places), round(found.area_mm2), found.places[0].least_deg
    (1, 400, 0.0)
    """
    short = np.flatnonzero((states.state == FaceState.TIGHT) & (drafts_deg < states.wanted_deg - _SPARED_DEG))
    part = mesh.submesh(short)
    areas = part.areas()
    label, count = shells(part)
    area = np.bincount(label, areas, minlength=count)
    largest = np.argsort(-area, kind="stable")
    places = tuple(
        _measured(part, areas, drafts_deg[short], label == one) for one in largest[area[largest] >= speck_mm2]
    )
    total = sum(place.area_mm2 for place in places)
    share = total / states.judged_mm2 if states.judged_mm2 > 0.0 else 0.0
    return DraftShortfall(states.wanted_deg, places, total, share)


def _measured(
    part: Mesh, areas: NDArray[np.float64], drafts_deg: NDArray[np.float64], chosen: NDArray[np.bool_]
) -> ShortPlace:
    """Figures of one place."""
    corners = part.corners()[chosen]
    x, y, z = np.average(corners.mean(axis=1), axis=0, weights=areas[chosen])
    heights = corners[:, :, 2]
    return ShortPlace(
        area_mm2=float(areas[chosen].sum()),
        least_deg=float(drafts_deg[chosen].min()),
        centre_mm=(float(x), float(y), float(z)),
        height_mm=float(heights.max() - heights.min()),
    )
