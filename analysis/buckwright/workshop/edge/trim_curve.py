"""The trim line as a closed curve on the formed sheet, and what is asked of it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from manifold3d import CrossSection, FillRule, JoinType
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.mesh.level_cut import closed_cut
from buckwright.mesh.triangles import Mesh

__all__ = [
    "TrimCurve",
    "even_ring",
    "island_curve",
    "level_ring",
    "opening_curve",
    "rising_curve",
    "trim_curve",
]

_STEP_MM = 1.0
_LEAST_CORNERS = 24
_LEAST_MM = 1.0
_CRUMB_MM = 1e-4
_WEB_MM = 2.0
_BARB_MM = 0.75  # half the width of the narrowest tongue that is kept: judgement
_IN_SHARE = 0.8  # a ring of the sheet that lies so far in an opening is its own: judgement
_ROUND = 64  # corners of a full turn
_SMOOTH = 3  # points to either side between which the line's direction is taken
_STRAIGHT = 0.94  # cosine of 20 degrees
_LEVEL_MM = 0.2
_LEAST_RISE_MM = 0.5  # less is no other line to a knife: judgement

type Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class TrimCurve:
    """Where the part is cut.

    Attributes
    ----------
    points : (N, 3) float64, mm, evenly along it and counter-clockwise seen down the pull; the last is joined
        to the first, which lies in front
    thickness_mm : (N,) of the sheet there
    source : 'forecast' where it lies on the forecast sheet, else 'wall'
    opening : whether it goes round an opening of the part, not round the part
    rises_mm : by how much its highest place lies over its lowest; 0 where it is level
    """

    points: Points
    thickness_mm: NDArray[np.float64]
    source: Literal["forecast", "wall"]
    opening: bool = False
    rises_mm: float = 0.0

    @property
    def length_mm(self) -> float:
        """Its length, on the side of the buck."""
        return float(np.linalg.norm(self.points - np.roll(self.points, -1, axis=0), axis=1).sum())

    @property
    def outward(self) -> Points:
        """(N, 3) level unit vectors away from the part."""
        along = np.roll(self.points, -_SMOOTH, axis=0) - np.roll(self.points, _SMOOTH, axis=0)
        out = np.column_stack([along[:, 1], -along[:, 0], np.zeros(len(along))])
        out = -out if self.opening else out
        return out / np.maximum(np.linalg.norm(out, axis=1), 1e-12)[:, None]

    @property
    def outside(self) -> Points:
        """(M, 3) a ring as the points, on the outer side of the sheet."""
        return self.beside(0.0)

    def beside(self, clear_mm: float) -> Points:
        """A ring beyond the outer side of the sheet, which counts as thick as it is on the mean.

        Parameters
        ----------
        clear_mm : how far beyond

        Returns
        -------
        (M, 3) float64, mm; of an opening too narrow for that, the line itself
        """
        sheet = CrossSection([self.points[:, :2]], FillRule.NonZero)
        by = float(self.thickness_mm.mean()) + clear_mm
        by = -by if self.opening else by
        if sheet.offset(by, JoinType.Round, 2.0, _ROUND).is_empty():
            return self.points
        ring = _ring_of(sheet.offset(by, JoinType.Round, 2.0, _ROUND), float(self.points[0, 2]))
        ring[:, 2] = self.height_at(ring[:, :2])
        return ring

    def height_at(self, plan: Points) -> NDArray[np.float64]:
        """Height (M,) of the line at its place nearest to each of some places (M, 2) seen down the pull."""
        if self.rises_mm == 0.0:
            return np.full(len(plan), self.points[0, 2])
        height: NDArray[np.float64] = self.points[cKDTree(self.points[:, :2]).query(plan)[1], 2]
        return height


def trim_curve(
    sheet: Mesh | None, thickness_mm: NDArray[np.float64] | None, wall: Mesh, z_mm: float, *, sheet_mm: float
) -> TrimCurve | None:
    """Cut the sheet at the height of the trim line; the wall of the buck where no sheet is known.

    Parameters
    ----------
    sheet : as forecast, in the buck's frame, mm; None without a forecast
    thickness_mm : (V,) at its vertices
    wall : the buck without vents
    z_mm : height of the trim line
    sheet_mm : thickness before forming, which counts where no forecast is

    Returns
    -------
    TrimCurve or None : None where nothing rises to that height

    Notes
    -----
    Webs that stand farther off the wall than 2 mm (judgement) are cut off: a fold is no edge.
    """
    ring = level_ring(wall, z_mm)
    if ring is None:
        return None
    if sheet is not None and thickness_mm is not None:
        found = level_ring(sheet, z_mm)
        if found is not None:
            return _on_sheet(_without_webs(found, ring), sheet, thickness_mm)
    return _on_wall(ring, sheet_mm)


def island_curve(
    sheet: Mesh | None, thickness_mm: NDArray[np.float64] | None, wall: Points, *, sheet_mm: float
) -> TrimCurve:
    """Cut the sheet round one of several bodies.

    Parameters
    ----------
    sheet, thickness_mm, sheet_mm : as `trim_curve`
    wall : (N, 3) level ring on the wall of the body, mm

    Returns
    -------
    TrimCurve : webs to the next body are cut off
    """
    ring, z_mm = even_ring(wall), float(wall[0, 2])
    if sheet is None or thickness_mm is None:
        return _on_wall(ring, sheet_mm)
    inside = CrossSection([wall[:, :2]], FillRule.NonZero)
    round_it = [one for one in closed_cut(sheet, z_mm) if _share_of(inside, one) > _IN_SHARE]
    if not round_it:
        return _on_wall(ring, sheet_mm)
    return _on_sheet(_without_webs(min(round_it, key=_covers), ring), sheet, thickness_mm)


def opening_curve(
    sheet: Mesh | None, thickness_mm: NDArray[np.float64] | None, wall: Points, *, sheet_mm: float
) -> TrimCurve:
    """Cut the sheet round an opening.

    Parameters
    ----------
    sheet, thickness_mm, sheet_mm : as `trim_curve`
    wall : (N, 3) level ring on the wall of the opening, mm

    Returns
    -------
    TrimCurve : where the sheet closes the opening, the wall counts
    """
    inside, z_mm = CrossSection([wall[:, :2]], FillRule.NonZero), float(wall[0, 2])
    ring = even_ring(wall)
    if sheet is None or thickness_mm is None:
        return _on_wall(ring, sheet_mm, opening=True)
    held = [one for one in closed_cut(sheet, z_mm) if _share_in(one, inside) > _IN_SHARE]
    if not held:
        return _on_wall(ring, sheet_mm, opening=True)
    open_part = CrossSection([max(held, key=_length)[:, :2]], FillRule.NonZero)
    least = inside.offset(-_WEB_MM, JoinType.Round, 2.0, _ROUND)
    return _on_sheet(_rounded((open_part + least) ^ inside, z_mm), sheet, thickness_mm, opening=True)


def _on_wall(ring: Points, sheet_mm: float, *, opening: bool = False) -> TrimCurve:
    """A line on the wall, where the sheet counts as thick as before forming."""
    return TrimCurve(ring, np.full(len(ring), sheet_mm), "wall", opening=opening)


def _on_sheet(
    ring: Points, sheet: Mesh, thickness_mm: NDArray[np.float64], *, opening: bool = False
) -> TrimCurve:
    """A line on the forecast sheet, as thick as its nearest vertices."""
    near = cKDTree(sheet.vertices).query(ring)[1]
    return TrimCurve(ring, thickness_mm[near], "forecast", opening=opening)


def _share_of(area: CrossSection, ring: Points) -> float:
    """Share of an area that a ring encloses."""
    enclosed = CrossSection([ring[:, :2]], FillRule.NonZero)
    return float((enclosed ^ area).area() / max(area.area(), _LEAST_MM**2))


def _share_in(ring: Points, area: CrossSection) -> float:
    """Share of what a ring encloses that lies in an area."""
    enclosed = CrossSection([ring[:, :2]], FillRule.NonZero)
    return float((enclosed ^ area).area() / max(enclosed.area(), _LEAST_MM**2))


def rising_curve(
    level: TrimCurve, surface: Mesh, clearance_mm: NDArray[np.float64], edge_mm: float
) -> TrimCurve:
    """A trim line that rises over places where the part comes too near to a body.

    Parameters
    ----------
    level : the level trim line
    surface : of the part from there up, mm
    clearance_mm : (V,) at its vertices
    edge_mm : least clearance of what is kept

    Returns
    -------
    TrimCurve : the level one where nothing is too near, or where all is

    Notes
    -----
    What is kept is higher than the level line and has at least that clearance. The line is the outer border
    of it, seen down the pull; what comes too near further in, away from the edge, stays.
    """
    kept = np.minimum(surface.vertices[:, 2] - level.points[0, 2], clearance_mm - edge_mm)
    rings = closed_cut(surface, 0.0, values=kept)
    if not rings or kept.min() >= 0.0:
        return level
    ring = even_ring(max(rings, key=_covers))
    rises = float(np.ptp(ring[:, 2]))
    if rises < _LEAST_RISE_MM:
        return level
    near = cKDTree(level.points).query(ring)[1]
    return TrimCurve(ring, level.thickness_mm[near], level.source, rises_mm=rises)


def _covers(line: Points) -> float:
    """Area that a closed line covers, seen down the pull."""
    x, y = line[:-1, 0], line[:-1, 1]
    return abs(float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())) / 2.0


def _without_webs(ring: Points, wall: Points) -> Points:
    sheet, inside = (CrossSection([one[:, :2]], FillRule.NonZero) for one in (ring, wall))
    near = inside.offset(_WEB_MM, JoinType.Round, 2.0, _ROUND)
    # under a fold the sheet's own line may turn inside out: there the wall counts
    return _rounded((sheet ^ near) + inside, float(ring[0, 2]))


def _rounded(whole: CrossSection, z_mm: float) -> Points:
    """The longest outline of an area without narrow tongues."""
    # barbs where a fold was cut off
    kept = whole.offset(-_BARB_MM, JoinType.Round, 2.0, _ROUND).offset(_BARB_MM, JoinType.Round, 2.0, _ROUND)
    # of a part as thin as a barb nothing would be left
    return _ring_of(whole if kept.is_empty() else kept, z_mm)


def _ring_of(area: CrossSection, z_mm: float) -> Points:
    """The longest outline of an area, as a ring."""
    outlines = [np.asarray(one, np.float64) for one in area.to_polygons()]
    raised = [np.column_stack([one, np.full(len(one), z_mm)]) for one in outlines]
    return even_ring(max((np.vstack([one, one[:1]]) for one in raised), key=_length))


def level_ring(mesh: Mesh, z_mm: float) -> Points | None:
    """The longest closed line in which a level plane cuts a mesh.

    Parameters
    ----------
    mesh : mm
    z_mm : height of the plane

    Returns
    -------
    (N, 3) float64, mm, about 1 mm apart with its corners, counter-clockwise, from the place with the least y;
    None where the plane cuts no closed line
    """
    longest = max(closed_cut(mesh, z_mm), key=_length, default=None)
    return None if longest is None or _length(longest) < _LEAST_MM else even_ring(longest)


def _length(line: Points) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def even_ring(line: Points) -> Points:
    """A closed line with points about 1 mm apart and its corners.

    Parameters
    ----------
    line : (N, 3) mm; the last point is joined to the first

    Returns
    -------
    (M, 3) float64, mm, counter-clockwise, from the place with the least y
    """
    line = _without_crumbs(line)
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    count = max(round(way[-1] / _STEP_MM), _LEAST_CORNERS)
    at = np.union1d(np.linspace(0.0, way[-1], count, endpoint=False), way[:-1][_sharp(line)])
    at = at[np.append(True, np.diff(at) > 1e-6)]
    ring = np.column_stack([np.interp(at, way, line[:, k]) for k in range(3)])
    x, y = ring[:, 0], ring[:, 1]
    if float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) < 0.0:
        ring = ring[::-1]
    return np.roll(ring, -_front(ring), axis=0)


def _without_crumbs(line: Points) -> Points:
    """Without corners that lie upon the one before; the last is the first again."""
    kept = line[np.append(True, np.linalg.norm(np.diff(line, axis=0), axis=1) > _CRUMB_MM)]
    ends = kept[:-1] if float(np.linalg.norm(kept[-1] - kept[0])) <= _CRUMB_MM else kept
    return np.vstack([ends, ends[:1]])


def _sharp(line: Points) -> NDArray[np.bool_]:
    """Corners of a closed line, its last point left out, where it turns by more than 20 degrees."""
    ahead = np.diff(line, axis=0)
    ahead /= np.maximum(np.linalg.norm(ahead, axis=1), 1e-12)[:, None]
    found: NDArray[np.bool_] = np.einsum("nk,nk->n", ahead, np.roll(ahead, 1, axis=0)) < _STRAIGHT
    return found


def _front(ring: Points) -> int:
    """Where the ring begins: in front, and of several such places nearest to the middle."""
    y = ring[:, 1]
    front = np.flatnonzero(y < y.min() + _LEVEL_MM)
    return int(front[np.abs(ring[front, 0] - (ring[:, 0].min() + ring[:, 0].max()) / 2.0).argmin()])
