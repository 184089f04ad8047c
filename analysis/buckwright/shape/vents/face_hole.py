"""The opening of a vent at the face: round hole, slot, or a dimple to drill after printing."""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from buckwright.errors import JobError

__all__ = ["FaceHole", "Opening", "face_hole"]

type Opening = Literal["hole", "slot", "dimple"]


@dataclass(frozen=True, slots=True)
class FaceHole:
    """What a vent looks like on the sheet's side.

    Attributes
    ----------
    opening : 'hole', 'slot' or 'dimple'
    width_mm : diameter of the hole or drill, or width of the slot
    length_mm : length of a slot; equal to the width otherwise
    area_mm2 : open area (of a dimple: once drilled)
    note : what remains to be done by hand, or why it is not a round hole; empty if nothing
    hole_mm : diameter of the round hole that was wanted
    """

    opening: Opening
    width_mm: float
    length_mm: float
    area_mm2: float
    note: str
    hole_mm: float = 0.0

    @property
    def reach_mm(self) -> float:
        """Greatest distance from the axis."""
        return self.length_mm / 2

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes
        """
        return {
            "opening": self.opening,
            "width_mm": self.width_mm,
            "length_mm": self.length_mm,
            "area_mm2": round(self.area_mm2, 4),
            "note": self.note,
        }


def face_hole(
    *,
    sheet_mm: float,
    low_mm: float,
    high_mm: float,
    printer_min_hole_mm: float = 1.0,
    printer_min_slot_mm: float = 0.4,
    slot_length_mm: float = 3.0,
    when_small: Opening = "dimple",
) -> FaceHole:
    """Choose the opening: as wide as the sheet is thick, within the range that does not mark.

    Parameters
    ----------
    sheet_mm : float, 0 < sheet_mm <= 12
    low_mm, high_mm : float, 0 < low_mm <= high_mm <= 10
        Range of diameters for the material, from the sheet table.
    printer_min_hole_mm : float, >= 0
        Smallest round hole that prints open: 0.6 mm holes close up, 1.0 mm ones do not (common practice, no
        source).
    printer_min_slot_mm : float, > 0
        Narrowest slot that prints open; 0.4..0.5 mm is common practice without a source. That slots suit
        filament printing: Proc. IMechE E 2023, doi 10.1177/09544089231173294.
    slot_length_mm : float, 0 < slot_length_mm <= 20
    when_small : 'slot', 'dimple' or 'hole'
        What to do where the printer cannot make the hole. 'hole' makes it all the same; a slot narrower than
        the printer can make becomes a dimple.

    Returns
    -------
    FaceHole

    Raises
    ------
    JobError
        A size out of range, or an unknown choice.

    Notes
    -----
    A hole no wider than the sheet is thick is the handbooks' rule (from memory); a guide text says usually
    less than 0.5 mm so as not to mark (after Kalpakjian and Schmid, read second-hand).

    Examples
    --------
    >>> hole = face_hole(sheet_mm=1.5, low_mm=0.5, high_mm=1.2)
    >>> hole.opening, hole.width_mm
    ('hole', 1.2)
    >>> small = face_hole(sheet_mm=0.5, low_mm=0.5, high_mm=1.0)
    >>> small.opening, small.width_mm
    ('dimple', 0.5)
    """
    if when_small not in ("hole", "slot", "dimple"):
        raise JobError(f"vents.when_small must be 'hole', 'slot' or 'dimple', got {when_small!r}")
    if not (0 < low_mm <= high_mm <= 10 and 0 < sheet_mm <= 12):
        raise JobError(
            f"vent holes need 0 < low <= high <= 10 mm and a sheet, got {low_mm:g}..{high_mm:g} mm"
        )
    if not (printer_min_hole_mm >= 0 and printer_min_slot_mm > 0 and 0 < slot_length_mm <= 20):
        raise JobError("the smallest printable hole and slot must be above 0 mm, a slot up to 20 mm long")
    width = round(float(np.clip(sheet_mm, low_mm, high_mm)), 3)
    round_area = np.pi / 4 * width**2
    if width >= printer_min_hole_mm or when_small == "hole":
        return FaceHole("hole", width, width, round_area, "", width)
    small = (
        f"holes of {width:g} mm leave no mark on this sheet, but the printer needs {printer_min_hole_mm:g} mm"
    )
    if when_small == "slot" and width >= printer_min_slot_mm:
        slot = max(printer_min_slot_mm, min(width, 0.5))
        long = max(slot_length_mm, slot)
        return FaceHole(
            "slot", slot, long, slot * long, f"{small}: slots {slot:g} x {long:g} mm instead", width
        )
    note = f"{small}: drill {width:g} mm after printing"
    return FaceHole("dimple", width, width, round_area, note, width)
