"""The two halves as solids, each on its seam, with the land and the keys that fit them together."""

from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.pose.posing import mean_thickness_mm
from buckwright.survey.pull import frame_for

__all__ = ["Half", "Seam", "halved"]

# Uneven shares of the seam, so that the keys fit one way only, also with one half turned over. House rule.
_KEYS_AT = (0.07, 0.37, 0.61)
# A seam shorter than this many key radii has no room for keys. House rule.
_ROOM_PER_KEY = 12.0
_KEY_TIP = 0.6
_CIRCLE = 32
_CRUMB_MM3 = 1.0
# How far what joins half and land reaches to both sides of the plane.
_BITE_MM = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Half:
    """One half in its own pull frame.

    Attributes
    ----------
    mesh : closed, on z = 0, mm
    matrix : (4, 4) float64, from the sculpt's own axes, mm, to this frame
    plain_volume_mm3 : of the half without land and keys
    bodies : how many separate bodies it is
    """

    mesh: Mesh
    matrix: NDArray[np.float64]
    plain_volume_mm3: float
    bodies: int


@dataclass(frozen=True, slots=True)
class Seam:
    """Where the halves meet.

    Attributes
    ----------
    length_mm : of all its outlines
    area_mm2 : of the section
    overlap_mm : how far the first half's part reaches over the second's
    step_mm : by which the first half's land stands out, the second part's thickness
    key_mm : radius of the ribs that fit the halves together, as asked for; 0 for none
    keys : how many there are
    """

    length_mm: float
    area_mm2: float
    overlap_mm: float
    step_mm: float
    key_mm: float
    keys: int


def halved(
    solid: Manifold,
    normal: NDArray[np.float64],
    offset_mm: float,
    *,
    overlap_mm: float,
    key_mm: float,
    sheet_mm: float,
) -> tuple[Half, Half, Seam]:
    """Cut a solid in two along a plane.

    Parameters
    ----------
    solid : the sculpt in its own axes, mm
    normal : (3,) unit vector across the plane; the first half lies on its side
    offset_mm : of the plane from the origin along the normal
    overlap_mm : of the first half's part over the second's, mm; 0 for a butt seam
    key_mm : radius of the keys, mm; 0 for none
    sheet_mm : thickness of the sheet before forming

    Returns
    -------
    Half, Half, Seam
        Without land and keys the halves united are the solid, and share the plane exactly.

    Raises
    ------
    MeshError
        The plane leaves nothing on one side.

    Notes
    -----
    The land goes on from the first half's seam straight towards the platen, wider all round by the thickness
    that the second part has on average, so that it slips over that part's wall; below the seam nothing of the
    sculpt is changed. Keys are upright ribs on the second half's wall, and wider ones on the land that take
    them in.
    """
    turn = frame_for(normal)
    upper = solid.transform(np.column_stack([turn, turn @ (-offset_mm * normal)]))
    first, second = upper.split_by_plane((0.0, 0.0, 1.0), 0.0)
    if min(first.volume(), second.volume()) <= _CRUMB_MM3:
        raise MeshError("the plane leaves nothing of the sculpt on one side; move it")
    section = upper.slice(0.0)
    flip = np.diag([1.0, -1.0, -1.0])
    under = second.transform(np.column_stack([flip, np.zeros(3)]))
    step = mean_thickness_mm(from_manifold(under), sheet_mm) if overlap_mm > 0.0 else 0.0
    spots = _key_spots(section, key_mm) if overlap_mm > 0.0 else np.zeros((0, 2))
    land = _with_land(first, upper, section, overlap_mm=overlap_mm, step_mm=step, spots=spots, key_mm=key_mm)
    keyed = _with_keys(under, spots * np.array([1.0, -1.0]), tall_mm=overlap_mm, key_mm=key_mm)
    seam = Seam(_length(section), section.area(), overlap_mm, step, key_mm, len(spots))
    to_plane = np.eye(4)
    to_plane[:3, :3], to_plane[:3, 3] = turn, turn @ (-offset_mm * normal)
    flipped = np.eye(4)
    flipped[:3, :3] = flip
    return (
        _half(land, to_plane, first, lift=overlap_mm),
        _half(keyed, flipped @ to_plane, under, lift=0.0),
        seam,
    )


def _half(solid: Manifold, matrix: NDArray[np.float64], plain: Manifold, *, lift: float) -> Half:
    """Centred over the origin, its foot on z = 0."""
    box = solid.bounding_box()
    move = np.array([-(box[0] + box[3]) / 2.0, -(box[1] + box[4]) / 2.0, lift])
    moved = np.eye(4)
    moved[:3, 3] = move
    standing = solid.translate(tuple(move.tolist()))
    bodies = sum(body.volume() > _CRUMB_MM3 for body in plain.decompose())
    return Half(from_manifold(standing), moved @ matrix, plain.volume(), bodies)


def _with_land(
    half: Manifold,
    whole: Manifold,
    section: CrossSection,
    *,
    overlap_mm: float,
    step_mm: float,
    spots: NDArray[np.float64],
    key_mm: float,
) -> Manifold:
    """The half with a land below its seam; it lies on z = 0 and the land reaches down from there."""
    if overlap_mm <= 0.0:
        return half
    wide = section.offset(step_mm, JoinType.Round, circular_segments=_CIRCLE)
    for x, y in spots.tolist():
        wide = wide + CrossSection.circle(key_mm + step_mm, _CIRCLE).translate((x, y))
    land = wide.extrude(overlap_mm).translate((0.0, 0.0, -overlap_mm))
    # Bodies that only touch may stay apart by rounding: the sculpt itself joins them across the plane.
    reach = wide.extrude(2.0 * _BITE_MM).translate((0.0, 0.0, -_BITE_MM))
    bite = whole ^ reach
    return half + land + bite


def _with_keys(half: Manifold, spots: NDArray[np.float64], *, tall_mm: float, key_mm: float) -> Manifold:
    """The half with upright ribs at its seam."""
    for x, y in spots.tolist():
        half = half + Manifold.cylinder(tall_mm, key_mm, _KEY_TIP * key_mm, _CIRCLE).translate((x, y, 0.0))
    return half


def _key_spots(section: CrossSection, key_mm: float) -> NDArray[np.float64]:
    """Places (K, 2) of the keys on the longest outline of the seam; none where there is no room."""
    loops = [np.asarray(loop, np.float64) for loop in section.to_polygons()]
    if key_mm <= 0.0 or not loops:
        return np.zeros((0, 2))
    loop = max(loops, key=_perimeter)
    if _perimeter(loop) < _ROOM_PER_KEY * key_mm * len(_KEYS_AT):
        return np.zeros((0, 2))
    # the outline begins where it is farthest along x, whichever corner comes first in the list
    closed = np.roll(loop, -int(np.argmax(loop[:, 0])), axis=0)
    closed = np.vstack([closed, closed[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    wanted = np.array(_KEYS_AT) * along[-1]
    return np.column_stack([np.interp(wanted, along, closed[:, axis]) for axis in (0, 1)])


def _perimeter(loop: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(np.roll(loop, -1, axis=0) - loop, axis=1).sum())


def _length(section: CrossSection) -> float:
    return sum(_perimeter(np.asarray(loop, np.float64)) for loop in section.to_polygons())
