"""Joints between pieces: pins that fit one way only, and a groove that takes up glue."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, OpType
from numpy.typing import NDArray

from buckwright.printing.pieces.axes import TOUCH_MM, from_axis, meeting, to_axis
from buckwright.printing.pieces.splitting import Cut
from buckwright.shape.underside.free_area import free_area

__all__ = ["PIN_WALL_MM", "Joint", "Pin", "cut_joints", "depth_at_pin", "find_joints", "loose_pin"]

_LEAST_AREA_MM2 = 25.0  # a smaller face takes neither pin nor groove; house rule
PIN_WALL_MM = 2.0
"""Least solid around a pin; house rule."""
_SMALLER = 0.75  # the second pin's width over the first's
_PLAY_MM = 0.5  # at the bottom of each hole, for glue and dust
_GROOVE_IN_MM, _GROOVE_MM, _GROOVE_DEEP_MM = 3.0, 1.0, 0.6  # house rule: two lines of a 0.4 mm nozzle
_SIDES = 48
_TRIES = 60
_PIXEL_MM = 1.0
_CHAMFER = 0.12


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin: centre on the cut face in the two other axes, and the diameter of its hole, mm."""

    u_mm: float
    v_mm: float
    hole_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """Two pieces that meet at a plane.

    Attributes
    ----------
    below, above : places of the pieces in their list; `above` lies towards the axis
    axis, at_mm : the plane
    area_mm2 : of the glued face
    face : its outline, in the two other axes
    pins : none where there is no room
    """

    below: int
    above: int
    axis: int
    at_mm: float
    area_mm2: float
    face: CrossSection
    pins: tuple[Pin, ...] = ()


def find_joints(pieces: Sequence[Manifold], cuts: Sequence[Cut], *, pin_mm: float) -> list[Joint]:
    """Where pieces meet, with places for two pins each.

    Parameters
    ----------
    pieces : from `split_solid`, mm
    cuts : their planes
    pin_mm : diameter of the larger pin's hole; 0 for no pins

    Returns
    -------
    list of Joint

    Notes
    -----
    The pins lie as far apart as the face allows, each with 2 mm of solid all around and behind it, which is
    checked on the pieces themselves.
    """
    joints = []
    for axis, at in sorted({(cut.axis, cut.at_mm) for cut in cuts}):
        for n, m in permutations(range(len(pieces)), 2):
            face = meeting(pieces[n], pieces[m], axis, at)
            if face.area() > _LEAST_AREA_MM2:
                pins = _pins(pieces[n], pieces[m], axis, at, face, pin_mm) if pin_mm else ()
                joints.append(Joint(n, m, axis, at, float(face.area()), face, pins))
    return joints


def cut_joints(
    pieces: Sequence[Manifold], joints: Sequence[Joint], *, printed: bool, clearance_mm: float, groove: bool
) -> list[Manifold]:
    """Bore the holes, put on printed pins and cut the grooves.

    Parameters
    ----------
    pieces, joints : as `find_joints`
    printed : pins grow from the lower piece and go into holes of the upper one; else both are bored
    clearance_mm : gap between pin and hole on each side
    groove : whether a glue groove is cut into the lower piece's face

    Returns
    -------
    list of Manifold
    """
    away: list[list[Manifold]] = [[] for _ in pieces]
    more: list[list[Manifold]] = [[] for _ in pieces]
    for joint in joints:
        for pin in joint.pins:
            deep = _depth(pin.hole_mm)
            away[joint.above].append(_rod(pin, joint, -TOUCH_MM, deep))
            if printed:
                slim = Pin(pin.u_mm, pin.v_mm, pin.hole_mm - 2.0 * clearance_mm)
                more[joint.below].append(_rod(slim, joint, -PIN_WALL_MM, deep - _PLAY_MM, chamfer=True))
            else:
                away[joint.below].append(_rod(pin, joint, -deep, TOUCH_MM))
        if groove:
            ring = _groove(joint)
            if not ring.is_empty():
                away[joint.below].append(ring)
    made = []
    for piece, minus, plus in zip(pieces, away, more):
        body = piece - Manifold.compose(minus) if minus else piece
        for one in plus:
            body = body + one
        made.append(body)
    return made


def loose_pin(hole_mm: float, *, clearance_mm: float) -> Manifold:
    """A pin that lies on a flat along its side, so that it prints lying and does not part between layers.

    Parameters
    ----------
    hole_mm : diameter of the hole
    clearance_mm : gap on each side

    Returns
    -------
    Manifold : along x, its flat on z = 0
    """
    radius = hole_mm / 2.0 - clearance_mm
    length = 2.0 * (_depth(hole_mm) - _PLAY_MM)
    body = _chamfered(radius, length, both=True).rotate((0.0, 90.0, 0.0))
    low = -0.85 * radius
    return body.trim_by_plane((0.0, 0.0, 1.0), low).translate((-length / 2.0, 0.0, -low))


def depth_at_pin(pin_mm: float) -> float:
    """How deep a piece is solid behind a joint with such a pin, mm."""
    return _depth(pin_mm) + PIN_WALL_MM


def _depth(hole_mm: float) -> float:
    """Depth of a hole: the pin is twice as long as wide (from memory), and has some play."""
    return hole_mm + _PLAY_MM


def _chamfered(radius: float, length: float, *, both: bool) -> Manifold:
    edge = _CHAMFER * 2.0 * radius
    start = edge if both else 0.0
    parts = [
        Manifold.cylinder(length - start - edge, radius, radius, _SIDES).translate((0.0, 0.0, start)),
        Manifold.cylinder(edge, radius, radius - edge, _SIDES).translate((0.0, 0.0, length - edge)),
    ]
    if both:
        parts.append(Manifold.cylinder(edge, radius - edge, radius, _SIDES))
    return Manifold.batch_boolean(parts, OpType.Add)


def _rod(pin: Pin, joint: Joint, low: float, high: float, *, chamfer: bool = False) -> Manifold:
    """A cylinder across a joint, from `low` to `high` beyond its plane."""
    radius, length = pin.hole_mm / 2.0, high - low
    body = _chamfered(radius, length, both=False) if chamfer else _cylinder(radius, length)
    return from_axis(body.translate((pin.u_mm, pin.v_mm, joint.at_mm + low)), joint.axis)


def _cylinder(radius: float, length: float) -> Manifold:
    return Manifold.cylinder(length, radius, radius, _SIDES)


def _groove(joint: Joint) -> Manifold:
    outer = joint.face.offset(-_GROOVE_IN_MM, JoinType.Round, 2.0, _SIDES)
    ring = outer - outer.offset(-_GROOVE_MM, JoinType.Round, 2.0, _SIDES)
    for pin in joint.pins:
        ring = ring - CrossSection.circle(pin.hole_mm / 2.0 + PIN_WALL_MM, _SIDES).translate(
            (pin.u_mm, pin.v_mm)
        )
    if ring.is_empty():
        return Manifold()
    body = ring.extrude(_GROOVE_DEEP_MM + TOUCH_MM).translate((0.0, 0.0, joint.at_mm - _GROOVE_DEEP_MM))
    return from_axis(body, joint.axis)


def _pins(
    below: Manifold, above: Manifold, axis: int, at: float, face: CrossSection, pin_mm: float
) -> tuple[Pin, ...]:
    """The farther apart, the better they keep the pieces from turning."""
    reach = depth_at_pin(pin_mm)
    lower, upper = to_axis(below, axis), to_axis(above, axis)
    slabs = (
        lower.trim_by_plane((0.0, 0.0, 1.0), at - reach - 1.0),
        upper.trim_by_plane((0.0, 0.0, -1.0), -(at + reach + 1.0)),
    )
    found: list[Pin] = []
    for hole in (pin_mm, _SMALLER * pin_mm):
        spots = _spots(face, hole / 2.0 + PIN_WALL_MM)
        for other in found:
            spots = spots[np.linalg.norm(spots - (other.u_mm, other.v_mm), axis=1) > 2.0 * pin_mm]
        if not len(spots):
            continue
        middle = np.array([found[0].u_mm, found[0].v_mm]) if found else spots.mean(axis=0)
        order = np.argsort(-np.linalg.norm(spots - middle, axis=1), kind="stable")
        for u, v in spots[order[:: max(len(order) // _TRIES, 1)]]:
            if _holds(slabs, (u, v), hole, at):
                found.append(Pin(float(u), float(v), hole))
                break
    return tuple(found)


def _spots(face: CrossSection, clear: float) -> NDArray[np.float64]:
    """Places (N, 2) on the face, on a lattice, that keep so far from its edge."""
    ground = free_area(face.offset(-clear, JoinType.Round, 2.0, _SIDES), pixel_mm=_PIXEL_MM)
    spots: NDArray[np.float64] = ground.centres()[ground.free]
    return spots


def _holds(slabs: tuple[Manifold, Manifold], spot: tuple[float, float], hole: float, at: float) -> bool:
    """Whether both pieces are solid all around a hole there."""
    radius, reach = hole / 2.0 + PIN_WALL_MM, _depth(hole) + PIN_WALL_MM
    place = (float(spot[0]), float(spot[1]))
    for slab, low in zip(slabs, (at - reach, at)):
        rod = _cylinder(radius, reach).translate((*place, low))
        if (rod - slab).volume() > 1e-3 * rod.volume():
            return False
    return True
