"""Pieces laid out on as few plates as can be."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, JoinType
from numpy.typing import NDArray

from buckwright.shape.underside.free_area import free_area

__all__ = ["Place", "pack"]

type _Spot = tuple[int, "_Way", tuple[int, int]]
"""Plate, way round, and the pixel where the raster begins."""

_PIXEL_MM = 1.0


@dataclass(frozen=True, slots=True)
class Place:
    """Where a piece lies.

    Attributes
    ----------
    plate : number of the plate, from 0
    angle_deg : turn about the vertical, before it is moved
    x_mm, y_mm : how far it is then moved
    """

    plate: int
    angle_deg: float
    x_mm: float
    y_mm: float


def pack(
    outlines: Sequence[CrossSection],
    turns_deg: Sequence[float],
    *,
    bed_mm: tuple[float, float],
    margin_mm: float,
    spacing_mm: float,
) -> list[Place]:
    """Lay outlines on plates, the largest first, each at the first free place from the front left.

    Parameters
    ----------
    outlines : of the pieces seen from above, mm
    turns_deg : for each, a turn with which it goes on an empty bed; quarter turns from it are tried too
    bed_mm : width and depth of the bed, its front left corner at the origin
    margin_mm : strip along the edges that stays free
    spacing_mm : least gap between pieces

    Returns
    -------
    list of Place, one for each outline

    Raises
    ------
    ValueError
        An outline does not go on the bed with any of its turns.

    Notes
    -----
    Free places are found for all shifts at once by a convolution of rasters of 1 mm. Half the spacing is put
    around each piece, and a pixel counts as taken where any part of it may be, so gaps are never too small.
    """
    room = (bed_mm[0] - 2.0 * margin_mm, bed_mm[1] - 2.0 * margin_mm)
    around = spacing_mm / 2.0
    # what keeps pieces apart may hang over the edge of the room, and a raster has a rim of its own
    rows, columns = (int(np.floor((side + 2.0 * around) / _PIXEL_MM)) + 5 for side in room[::-1])
    places: dict[int, Place] = {}
    plates: list[NDArray[np.bool_]] = []
    for n in sorted(range(len(outlines)), key=lambda k: (-outlines[k].area(), k)):
        tried = (_Way.of(outlines[n], turns_deg[n] + 90.0 * k, around, room) for k in range(4))
        ways = [way for way in tried if way is not None]
        if not ways:
            raise ValueError(f"outline {n} does not go on the bed, turned by {turns_deg[n]:g} degrees or not")
        plate, way, (row, column) = _first(ways, plates, (rows, columns))
        high, wide = way.taken.shape
        plates[plate][row : row + high, column : column + wide] |= way.taken
        x, y = np.array([column, row]) * _PIXEL_MM - way.low + margin_mm
        places[n] = Place(plate, way.angle, float(x), float(y))
    return [places[n] for n in range(len(outlines))]


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """One way round to lay an outline: the pixels it takes, and the corner of its box."""

    angle: float
    low: NDArray[np.float64]
    taken: NDArray[np.bool_]

    @classmethod
    def of(
        cls, outline: CrossSection, angle: float, around: float, room: tuple[float, float]
    ) -> "_Way | None":
        """None where it does not go on the bed."""
        turned = outline.rotate(angle)
        x0, y0, x1, y1 = turned.bounds()
        if x1 - x0 > room[0] + 1e-6 or y1 - y0 > room[1] + 1e-6:
            return None
        ground = free_area(
            turned.offset(around + _PIXEL_MM, JoinType.Round, 2.0, 32).simplify(0.05), pixel_mm=_PIXEL_MM
        )
        return cls(angle, np.array([x0, y0]), ground.free)


def _first(ways: list[_Way], plates: list[NDArray[np.bool_]], shape: tuple[int, int]) -> _Spot:
    """The first free place on the plates in use, or on a new one."""
    for number, plate in enumerate(plates):
        for way in ways:
            free = _free(plate, way)
            if free is not None:
                return number, way, free
    way = ways[0]
    rows, columns = (max(one, whole) for one, whole in zip(way.taken.shape, shape))
    plate = np.ones((rows, columns), np.bool_)
    plate[: shape[0], : shape[1]] = False
    plates.append(plate)
    return len(plates) - 1, way, (0, 0)


def _free(plate: NDArray[np.bool_], way: _Way) -> tuple[int, int] | None:
    """Row and column of the first shift at which nothing is covered twice."""
    if any(one > whole for one, whole in zip(way.taken.shape, plate.shape)):
        return None
    # its import takes half a second, and one piece alone needs no search
    from scipy.signal import fftconvolve

    covered = fftconvolve(plate.astype(float), way.taken[::-1, ::-1].astype(float), mode="valid")
    rows, columns = np.nonzero(covered < 0.5)
    return (int(rows[0]), int(columns[0])) if len(rows) else None
