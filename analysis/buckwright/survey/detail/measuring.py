"""Grooves too narrow for the sheet, edges too sharp for it: a ball rolls over and under the relief."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from buckwright.mesh.triangles import Mesh
from buckwright.relief.ball import ball_over
from buckwright.relief.raster import Relief, relief_of

__all__ = [
    "Detail",
    "Place",
    "filled_mm",
    "measure_detail",
    "rolled_mm",
    "rounded_off_mm",
    "stroke_of",
]

_STROKE_SHEETS = 2.0  # strokes this many sheets wide come out: common practice, no source
_SHOWS_SHARE = 0.5  # of the sheet: what is lost less deep does not show (judgement, as in the forecast)
_SHARP_SHARE = (
    0.1  # of the radius: a ball leaves less of edges that turn by about 55 degrees or less (derived)
)
_PIXELS_A_STROKE, _PIXELS_A_BALL = 8.0, 20.0
_MOST_PIXELS = 3_000_000  # beyond that pixels are larger
_LEAST_BALL_PIXELS = 4.0  # across it, below which the relief is too coarse to tell


@dataclass(frozen=True, slots=True)
class Place:
    """One groove or stretch of edge.

    Attributes
    ----------
    at_mm : (3,) where it is worst, on the buck
    lost_mm : how much of its depth is lost there; for an edge what the ball leaves of it, no more than its
        radius; both along the pull
    area_mm2 : of the plan
    """

    at_mm: tuple[float, float, float]
    lost_mm: float
    area_mm2: float

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes
        """
        return {"at_mm": list(self.at_mm), "lost_mm": self.lost_mm, "area_mm2": self.area_mm2}


@dataclass(frozen=True, slots=True, eq=False)
class Detail:
    """What is too fine for the sheet.

    Attributes
    ----------
    stroke_mm, edge_radius_mm : what was asked for; 0 for not
    strokes : grooves over which the sheet closes, the deepest loss first; None where the relief is too coarse
    edges : edges that are sharper, the sharpest first; None likewise
    lost : the relief with what grooves lose, mm, as its height; None without a check
    """

    stroke_mm: float
    edge_radius_mm: float
    strokes: tuple[Place, ...] | None
    edges: tuple[Place, ...] | None
    lost: Relief | None

    @property
    def edge_length_mm(self) -> float:
        """Length of the sharp edges, about: that of a strip as wide as along an upright wall."""
        pixel = 2.0 / _PIXELS_A_BALL
        strip = (1.0 - np.sqrt(1.0 - (1.0 - _SHARP_SHARE) ** 2) - pixel) * self.edge_radius_mm
        return sum(one.area_mm2 for one in self.edges or ()) / strip if strip > 0.0 else 0.0

    def lost_at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """What grooves lose over places.

        Parameters
        ----------
        places : (N, 2 or more) float64, mm

        Returns
        -------
        (N,) float64 : mm; nan without a check
        """
        if self.lost is None:
            return np.full(len(places), np.nan)
        found: NDArray[np.float64] = self.lost.height[self.lost.pixel_of(places[:, :2])]
        return found

    def to_dict(self) -> dict[str, Any]:
        """The section `detail` of the report.

        Returns
        -------
        dict : what was asked for, and of each kind how many and the twenty worst places
        """
        return {
            "stroke_mm": self.stroke_mm,
            "edge_radius_mm": self.edge_radius_mm,
            "strokes": _told(self.strokes),
            "edges": _told(self.edges),
            "edge_length_mm": None if self.edges is None else self.edge_length_mm,
        }


def _told(places: tuple[Place, ...] | None) -> dict[str, Any] | None:
    if places is None:
        return None
    return {"count": len(places), "places": [one.to_dict() for one in places[:20]]}


def stroke_of(stroke_mm: float | None, sheet_mm: float) -> float:
    """The narrowest stroke: as asked, or twice the sheet.

    Parameters
    ----------
    stroke_mm : as the job has it; None for the rule
    sheet_mm : thickness of the sheet

    Returns
    -------
    float : mm
    """
    return _STROKE_SHEETS * sheet_mm if stroke_mm is None else stroke_mm


def measure_detail(
    buck: Mesh, *, stroke_mm: float, edge_radius_mm: float, sheet_mm: float, above_mm: float
) -> Detail:
    """Roll a ball over the buck for its grooves, and one under its surface for its edges.

    Parameters
    ----------
    buck : closed, in the pull frame, mm, without vents
    stroke_mm, edge_radius_mm : narrowest stroke and least radius of an edge, >= 0; 0 leaves a check out
    sheet_mm : thickness of the sheet
    above_mm : only what is higher counts: the part

    Returns
    -------
    Detail

    Notes
    -----
    Closing and opening of the height raster. A groove counts where both a ball and a level disc of the
    stroke's width close it: the ball alone also leaves something in every inner corner, the disc alone in a
    wide valley. Errors: widths and radii are told to about a pixel, an eighth of the stroke, a tenth of the
    radius; an edge that turns by less than about 55 degrees is not told, whatever its radius.
    """
    strokes = edges = lost = None
    if stroke_mm > 0.0 and (relief := _raster(buck, stroke_mm, _PIXELS_A_STROKE)) is not None:
        gone = filled_mm(relief.height, relief.pixel_mm, 0.5 * stroke_mm)
        gone[relief.height <= above_mm] = 0.0
        strokes = _places(relief, gone, _SHOWS_SHARE * sheet_mm, 0.25 * stroke_mm**2)
        lost = Relief(relief.origin, relief.pixel_mm, gone, relief.face)
    if edge_radius_mm > 0.0:
        relief = _raster(buck, 2.0 * edge_radius_mm, _PIXELS_A_BALL)
        if relief is not None:
            off = rounded_off_mm(relief.height, relief.pixel_mm, edge_radius_mm)
            off[relief.height <= above_mm] = 0.0
            off = np.minimum(off, edge_radius_mm)  # in a sharp corner of the plan it is the whole height
            edges = _places(relief, off, _SHARP_SHARE * edge_radius_mm, 0.25 * edge_radius_mm**2)
    return Detail(stroke_mm, edge_radius_mm, strokes, edges, lost)


def filled_mm(height: NDArray[np.float64], pixel_mm: float, radius_mm: float) -> NDArray[np.float64]:
    """What a ball that rolls over heights (ny, nx) leaves open in grooves narrower than itself, mm.

    Parameters
    ----------
    height : finite, mm
    pixel_mm : side of a pixel
    radius_mm : of the ball, several pixels

    Returns
    -------
    (ny, nx) float64, mm, >= 0
    """
    disc, _ = _ball(radius_mm, pixel_mm)
    rolled = rolled_mm(height, pixel_mm, radius_mm)
    level = ndimage.grey_erosion(ndimage.grey_dilation(height, footprint=disc), footprint=disc)
    return np.asarray(np.maximum(np.minimum(rolled, level) - height, 0.0))


def rolled_mm(height: NDArray[np.float64], pixel_mm: float, radius_mm: float) -> NDArray[np.float64]:
    """Heights (ny, nx) as a ball that rolls over them feels them, mm: no inner corner sharper than itself.

    Parameters
    ----------
    height : finite, mm
    pixel_mm : side of a pixel
    radius_mm : of the ball, several pixels

    Returns
    -------
    (ny, nx) float64, mm, the closed heights
    """
    disc, ball = _ball(radius_mm, pixel_mm)
    above = ndimage.grey_dilation(height, footprint=disc, structure=ball)
    return np.asarray(ndimage.grey_erosion(above, footprint=disc, structure=ball))


def rounded_off_mm(height: NDArray[np.float64], pixel_mm: float, radius_mm: float) -> NDArray[np.float64]:
    """What of heights (ny, nx) a ball that rolls under them does not reach, mm: edges sharper than itself.

    Parameters
    ----------
    height : finite, mm
    pixel_mm : side of a pixel
    radius_mm : of the ball, several pixels

    Returns
    -------
    (ny, nx) float64, mm, >= 0
    """
    disc, ball = _ball(radius_mm, pixel_mm)
    under = ndimage.grey_dilation(
        ndimage.grey_erosion(height, footprint=disc, structure=ball), footprint=disc, structure=ball
    )
    # pixels lie up to one of them off an upright wall, which a ball of just its radius must not feel
    return np.asarray(np.maximum(height - ndimage.grey_dilation(under, size=(3, 3)), 0.0))


def _ball(radius_mm: float, pixel_mm: float) -> tuple[NDArray[np.bool_], Any]:
    """Pixels of its disc, and how far its skin lies under its top over each.

    The latter is untyped, as the stubs of scipy know structures of whole numbers only.
    """
    ball = ball_over(radius_mm, pixel_mm)
    return np.isfinite(ball), ball - radius_mm


def _raster(buck: Mesh, across_mm: float, pixels: float) -> Relief | None:
    """The relief, fine enough for a ball of that diameter; None where that would be too large."""
    width, depth = buck.size[:2] + 2.0 * across_mm
    pixel = max(across_mm / pixels, float(np.sqrt(width * depth / _MOST_PIXELS)))
    if across_mm / pixel < _LEAST_BALL_PIXELS:
        return None
    seen = relief_of(buck, pixel_mm=pixel, margin_mm=across_mm)
    ground = np.where(np.isfinite(seen.height), seen.height, 0.0)
    return Relief(seen.origin, pixel, ground, seen.face)


def _places(
    relief: Relief, gone: NDArray[np.float64], least_mm: float, least_mm2: float
) -> tuple[Place, ...]:
    """Regions that lose so much, the worst first; specks are left out."""
    label, count = ndimage.label(gone > least_mm, np.ones((3, 3), np.int8))
    if not count:
        return ()
    numbers = np.arange(1, count + 1)
    areas = np.bincount(label.ravel(), minlength=count + 1)[1:] * relief.pixel_mm**2
    worst = ndimage.maximum_position(gone, label, numbers)
    found = []
    for (row, column), area in zip(worst, areas.tolist(), strict=True):
        if area < least_mm2:
            continue
        x, y = (relief.origin + (np.array([column, row]) + 0.5) * relief.pixel_mm).tolist()
        found.append(Place((x, y, float(relief.height[row, column])), float(gone[row, column]), area))
    return tuple(sorted(found, key=lambda one: (-one.lost_mm, one.at_mm)))
