"""The buck in pieces that go on the printer, with their joints, letters and places on the plates."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from string import ascii_uppercase
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

from buckwright.atmosphere import ATMOSPHERE_PA
from buckwright.errors import JobError
from buckwright.mesh.manifolds import from_manifold
from buckwright.printing.amounts import Amounts, amounts_of
from buckwright.printing.pieces.axes import box_of
from buckwright.printing.pieces.fitting import turn_to_fit, turned
from buckwright.printing.pieces.joints import Joint, cut_joints, find_joints, loose_pin
from buckwright.printing.pieces.lands import filled, hollowed_again
from buckwright.printing.pieces.own_planes import along_axes, in_frame, split_along
from buckwright.printing.pieces.packing import Place, pack
from buckwright.printing.pieces.places import detail_of
from buckwright.printing.pieces.slivers import Sliver, planes_that_cut, without_slivers
from buckwright.printing.pieces.splitting import Cut, Hindrances, best_turn, split_solid
from buckwright.printing.settings import PrinterSettings, PrintSettings
from buckwright.shape.underside.engraving import engraving_tools, plan_engraving

__all__ = ["Piece", "Pieces", "plan_pieces"]

_LETTER_LOOK_MM = 0.05
_LEAST_ROOM_MM = 30.0
"""Smaller pieces could not be held and glued. House rule."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One body to print.

    Attributes
    ----------
    name : a letter, which is engraved underneath; or the pin's number
    stem : of its file
    solid : where it belongs in the buck, mm; a pin lies at the origin
    place : where it lies on its plate; None where no bed is given
    size_mm : of its box as it belongs in the buck
    amounts : what it takes to print
    lettered : whether there was room for the letter
    """

    name: str
    stem: str
    solid: Manifold
    place: Place | None
    size_mm: tuple[float, float, float]
    amounts: Amounts
    lettered: bool

    def laid(self) -> Manifold:
        """The body on its plate, its foot on z = 0."""
        low = self.solid.bounding_box()[2]
        if self.place is None:
            return self.solid.translate((0.0, 0.0, -low))
        turned = self.solid.rotate((0.0, 0.0, self.place.angle_deg))
        return turned.translate((self.place.x_mm, self.place.y_mm, -low))

    def to_dict(self) -> dict[str, Any]:
        """The entry of the report."""
        plate = None if self.place is None else self.place.plate + 1
        return {"name": self.name, "plate": plate, "size_mm": list(self.size_mm)} | self.amounts.to_dict()


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """What `plan_pieces` made.

    Attributes
    ----------
    pieces : the buck as a whole, or its pieces by letter
    pins : loose pins
    joints : between the pieces; `below` and `above` count them
    cuts : the planes, in the frame turned by `turn_deg`
    turn_deg : turn of the buck before it was cut along the axes
    plates : how many; 0 where no bed is given
    size_mm : of the whole buck
    amounts : what the whole takes to print
    saved : what a hollow buck takes less than the same one with infill instead; None for a buck that is full
    slivers : what the planes would have shaved off, and what became of it
    """

    pieces: tuple[Piece, ...]
    pins: tuple[Piece, ...]
    joints: tuple[Joint, ...]
    cuts: tuple[Cut, ...]
    turn_deg: float
    plates: int
    size_mm: tuple[float, float, float]
    amounts: Amounts
    saved: Amounts | None = None
    slivers: tuple[Sliver, ...] = ()

    @property
    def planes_mm(self) -> NDArray[np.float64]:
        """(N, 4) the planes in the frame of the buck: unit vector across, distance from its origin, mm."""
        return in_frame(self.cuts, self.turn_deg)

    @property
    def split(self) -> bool:
        """Whether the buck was cut."""
        return len(self.pieces) > 1

    def to_dict(self) -> dict[str, Any]:
        """The section of the report."""
        return {
            "size_mm": list(self.size_mm),
            "whole": self.amounts.to_dict(),
            "saved_by_hollow": None if self.saved is None else _of_plastic(self.saved),
            "plates": self.plates,
            "pieces": [piece.to_dict() for piece in self.pieces] if self.split else [],
            "pins": len(self.pins),
            "joints": [
                {
                    "between": [self.pieces[joint.below].name, self.pieces[joint.above].name],
                    "area_mm2": joint.area_mm2,
                    "pressed_n": 1e-6 * ATMOSPHERE_PA * joint.area_mm2,
                    "pins": len(joint.pins),
                }
                for joint in self.joints
            ],
            "slivers": [sliver.to_dict() for sliver in self.slivers],
            "planes_mm": self.planes_mm.tolist(),
            "nearest_vent_mm": min((cut.clear_mm for cut in self.cuts), default=None),
        }


def plan_pieces(
    solid: Manifold,
    *,
    beads: NDArray[np.float64],
    grooves: NDArray[np.float64] | None = None,
    cells: Manifold | None = None,
    detail_above_mm: float,
    printed: PrintSettings,
    printer: PrinterSettings,
    told: Callable[[float], None] = lambda _share: None,
) -> Pieces:
    """Split a buck for the printer, where it is too large for it.

    Parameters
    ----------
    solid : the buck, standing on z = 0, mm
    beads : (N, 4) float64, spheres that stand for vents and fixings
    grooves : (G, 2) float64, places a millimetre apart that channels on the underside cover
    cells : cavity of a hollow buck with ribs, to be closed at the joints; None for another buck
    detail_above_mm : height from which on joints should keep off fine detail
    printed, printer : settings
    told : called with the share done, 0..1; may raise to stop

    Returns
    -------
    Pieces

    Raises
    ------
    JobError
        The margin leaves next to nothing of the bed; planes that are given lean, or leave a piece too large.

    Notes
    -----
    Each piece keeps its attitude, so that it stands on the buck's own underside or on a level joint; on the
    bed it is turned about the vertical only.
    """
    size = _size(solid)
    whole = amounts_of(solid, printed, printer)
    room = _room(printer)
    if room is None:
        piece = Piece("A", "piece_A", solid, None, size, whole, lettered=True)
        return Pieces((piece,), (), (), (), 0.0, 0, size, whole)
    hull = _hull(solid)
    turn = turn_to_fit(hull, room[:2])
    if turn is not None and size[2] <= room[2] and not printer.planes_mm:
        outline = solid.project()
        place = pack([outline], [turn], bed_mm=_bed(printer), margin_mm=printer.margin_mm, spacing_mm=0.0)[0]
        piece = Piece("A", "piece_A", solid, place, size, whole, lettered=True)
        return Pieces((piece,), (), (), (), 0.0, 1, size, whole)
    keep_off = beads, np.zeros((0, 2)) if grooves is None else grooves
    return _in_pieces(solid, cells, hull, keep_off, detail_above_mm, printed, printer, told)


def _in_pieces(
    solid: Manifold,
    cells: Manifold | None,
    hull: NDArray[np.float64],
    keep_off: tuple[NDArray[np.float64], NDArray[np.float64]],
    detail_above_mm: float,
    printed: PrintSettings,
    printer: PrinterSettings,
    told: Callable[[float], None],
) -> Pieces:
    room, beads = _room(printer), keep_off[0]
    assert room is not None
    if printer.joint == "printed":
        # a pin that stands out of a joint needs its place on the bed
        wide, deep, tall = (side - printer.pin_mm for side in room)
        room = wide, deep, tall
    if printer.planes_mm:
        angle, own = along_axes(printer.planes_mm)
        across = room[:2]
    else:
        angle, across = best_turn(hull, beads, room[:2], clear_mm=printer.joint_clear_mm)
    aligned = solid.rotate((0.0, 0.0, angle))
    hollow = None if cells is None else cells.rotate((0.0, 0.0, angle))
    if hollow is not None:
        aligned = filled(aligned, hollow)
    around = np.column_stack([turned(beads[:, :2], angle), beads[:, 2:]])
    detail = detail_of(from_manifold(aligned), above_mm=detail_above_mm)
    told(0.1)
    hindrances = Hindrances(around, detail, printer.joint_clear_mm, turned(keep_off[1], angle))
    if printer.planes_mm:
        bodies, cuts = split_along(aligned, own, hindrances)
    else:
        bodies, cuts = split_solid(aligned, (*across, room[2]), hindrances)
    bodies, slivers = without_slivers(bodies, cuts, fits=lambda body: _fits(body, room))
    cuts = planes_that_cut(bodies, cuts)
    if printer.planes_mm:
        _must_fit(bodies, room)
    told(0.4)
    bodies.sort(key=lambda body: tuple(np.round(body.bounding_box()[:3], 3)[::-1]))
    pin_mm = 0.0 if printer.joint == "none" else printer.pin_mm
    joints = find_joints(bodies, cuts, pin_mm=pin_mm)
    if hollow is not None:
        bodies = hollowed_again(bodies, hollow, joints)
    told(0.6)
    joined = cut_joints(
        bodies,
        joints,
        printed=printer.joint == "printed",
        clearance_mm=printer.clearance_mm,
        groove=printer.glue_groove,
    )
    named = [(body, True) for body in joined]
    if len(joined) > 1:
        named = [_lettered(body, name) for body, name in zip(joined, _names(len(joined)))]
    told(0.8)
    holes = [pin.hole_mm for joint in joints for pin in joint.pins] if printer.joint == "loose" else []
    rods = [loose_pin(hole, clearance_mm=printer.clearance_mm) for hole in holes]
    stems = [
        *(f"piece_{name}" for name in _names(len(named))),
        *(f"pin_{hole:g}mm" for hole in holes),
    ]
    bodies = [*named, *((rod, True) for rod in rods)]
    pieces, pins, plates = _laid(bodies, stems, len(named), room, printed, printer)
    back = tuple(_turned_back(piece, angle) for piece in pieces)
    return Pieces(
        back,
        pins,
        tuple(joints),
        tuple(cuts),
        angle,
        plates,
        _size(solid),
        _sum([piece.amounts for piece in (*pieces, *pins)]),
        slivers=tuple(sliver.turned_back(angle) for sliver in slivers),
    )


def _of_plastic(amounts: Amounts) -> dict[str, Any]:
    named = amounts.to_dict()
    return {name: named[name] for name in ("volume_mm3", "printed_mm3", "mass_g", "filament_m", "time_h")}


def _must_fit(bodies: list[Manifold], room: tuple[float, float, float]) -> None:
    """Refuse planes that leave a piece too large for the printer."""
    for body in bodies:
        if not _fits(body, room):
            wide, deep, tall = _size(body)
            raise JobError(
                f"these split planes leave a piece of {wide:.0f} x {deep:.0f} x {tall:.0f} mm, but the "
                f"printer takes {room[0]:.0f} x {room[1]:.0f} x {room[2]:.0f} mm: move a plane or add one"
            )


def _fits(body: Manifold, room: tuple[float, float, float]) -> bool:
    return _size(body)[2] <= room[2] and turn_to_fit(_corners(body.project()), room[:2]) is not None


def _sum(parts: list[Amounts]) -> Amounts:
    total = parts[0]
    for part in parts[1:]:
        total = total.plus(part)
    return total


def _laid(
    bodies: list[tuple[Manifold, bool]],
    stems: list[str],
    count: int,
    room: tuple[float, float, float],
    printed: PrintSettings,
    printer: PrinterSettings,
) -> tuple[list[Piece], tuple[Piece, ...], int]:
    """Pieces and pins with their places on the plates."""
    outlines = [body.project() for body, _ in bodies]
    turns = [turn_to_fit(_corners(outline), room[:2]) or 0.0 for outline in outlines]
    places = pack(
        outlines, turns, bed_mm=_bed(printer), margin_mm=printer.margin_mm, spacing_mm=printer.spacing_mm
    )
    names = [*_names(count), *(f"pin {n + 1}" for n in range(len(bodies) - count))]
    made = [
        Piece(name, stem, body, place, _size(body), amounts_of(body, printed, printer), lettered)
        for name, stem, (body, lettered), place in zip(names, stems, bodies, places)
    ]
    return made[:count], tuple(made[count:]), max(place.plate for place in places) + 1


def _turned_back(piece: Piece, angle: float) -> Piece:
    """The piece where it belongs in the buck as it stands."""
    assert piece.place is not None
    place = piece.place
    moved = Place(place.plate, place.angle_deg + angle, place.x_mm, place.y_mm)
    solid = piece.solid.rotate((0.0, 0.0, -angle))
    return replace(piece, solid=solid, place=moved)


def _lettered(body: Manifold, name: str) -> tuple[Manifold, bool]:
    """Engrave the letter underneath, and tell whether there was room."""
    low = body.bounding_box()[2]
    standing = body.translate((0.0, 0.0, -low))
    plan = plan_engraving(name, standing.slice(_LETTER_LOOK_MM), wall_mm=2.0)
    tools = engraving_tools(plan)
    for tool in tools:
        standing = standing - tool
    return standing.translate((0.0, 0.0, low)), bool(tools)


def _names(count: int) -> list[str]:
    """A, B ... Z, AA, AB ..."""
    singles = list(ascii_uppercase)
    return [*singles, *("".join(pair) for pair in product(singles, singles))][:count]


def _bed(printer: PrinterSettings) -> tuple[float, float]:
    assert printer.bed_mm is not None
    return printer.bed_mm


def _room(printer: PrinterSettings) -> tuple[float, float, float] | None:
    """What of the printer can be used."""
    if printer.bed_mm is None:
        return None
    wide, deep = (side - 2.0 * printer.margin_mm for side in printer.bed_mm)
    needed = _LEAST_ROOM_MM + (printer.pin_mm if printer.joint == "printed" else 0.0)
    if min(wide, deep) < needed:
        raise JobError(
            f"a margin of {printer.margin_mm:g} mm leaves {max(wide, 0.0):g} x {max(deep, 0.0):g} mm of the "
            f"bed; at least {needed:g} mm are needed: make printer.margin_mm smaller"
        )
    return wide, deep, printer.height_mm


def _size(solid: Manifold) -> tuple[float, float, float]:
    low, high = box_of(solid)
    wide, deep, tall = (float(side) for side in high - low)
    return wide, deep, tall


def _hull(solid: Manifold) -> NDArray[np.float64]:
    """Corners of the convex outline seen from above."""
    points = from_manifold(solid).vertices[:, :2]
    return np.asarray(CrossSection.hull_points(points).to_polygons()[0])


def _corners(outline: CrossSection) -> NDArray[np.float64]:
    return np.asarray(outline.hull().to_polygons()[0])
