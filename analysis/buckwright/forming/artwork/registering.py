"""Register pips: small bumps round the sculpt that show on the part where the print came to lie."""

from typing import TYPE_CHECKING

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

if TYPE_CHECKING:
    from buckwright.shape.base.base_plan import BasePlan

__all__ = ["register_on", "register_places"]

_ROOM_MM = 2.0
"""Flat that a pip needs to each side: its radius of 1 mm and as much beside it. House rule."""
_APART_MM = 20.0
"""Pips nearer to one another would tell of the same place: house rule."""
_DIAGONALS = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))


def register_on(plan: "BasePlan") -> NDArray[np.float64]:
    """Where pips stand on a base, as `register_places` finds them."""
    return register_places(plan.plate, plan.foot_ring, level_mm=plan.flange_z_mm, edge_mm=plan.edge_mm)


def register_places(
    plate: CrossSection, foot: CrossSection | None, *, level_mm: float, edge_mm: float = 0.0
) -> NDArray[np.float64]:
    """Where pips stand: as far out on the flat as there is room, one towards each corner.

    Parameters
    ----------
    plate : outline of the base that is level round the sculpt, mm
    foot : outline of what rises from it; None where nothing level is left
    level_mm : its height over the platen
    edge_mm : rounding of its edge

    Returns
    -------
    (N, 3) float64, N from 0 to 4, mm : front left, front right, back right, back left; fewer than four where
        two would stand within 20 mm of one another, none where the flat is too narrow

    Examples
    --------
    >>> board, part = CrossSection.square((60.0, 40.0), True), CrossSection.square((40.0, 20.0), True)
    >>> register_places(board, part, level_mm=5.0)[:, :2].tolist()
    [[-28.0, -18.0], [28.0, -18.0], [28.0, 18.0], [-28.0, 18.0]]
    """
    if foot is None:
        return np.zeros((0, 3))
    free = plate.offset(-edge_mm - _ROOM_MM) - foot.offset(_ROOM_MM)
    corners = [np.asarray(ring, np.float64) for ring in free.to_polygons()]
    if not corners:
        return np.zeros((0, 3))
    points = np.concatenate(corners)
    size = np.maximum(np.ptp(points, axis=0), 1e-9)
    found: list[NDArray[np.float64]] = []
    for way in _DIAGONALS:
        place = points[int((points @ (np.array(way) / size)).argmax())]
        if all(np.hypot(*(place - one)) > _APART_MM for one in found):
            found.append(place)
    return np.column_stack([np.array(found), np.full(len(found), level_mm)])
