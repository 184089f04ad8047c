"""Opening, blank, mask plate, gasket and clamp frame: one consistent set around one opening."""

import math
from dataclasses import asdict, dataclass
from typing import Any

from buckwright.workshop.machine.opening import turned_like

__all__ = ["ClampFrame", "OwnFrame", "Reduction", "RigPlan", "Strip", "clamp_plane_mm", "gripped", "plan_rig"]

# An opening is made to whole units of this, mm: nobody cuts a frame to a tenth. House rule.
_STEP_MM = 1.0
# A mask plate of unknown platen reaches so far beyond the opening, mm: house rule.
_BORDER_MM = 60.0
# The gasket lies this far back from the edge of the cut-out, mm: common practice, no source.
_SETBACK_MM = 2.0
# Clamps no further apart than this, mm, and at least four: more is better, makers say; no source.
_CLAMP_EVERY_MM = 100.0
_LEAST_CLAMPS = 4
# A frame that is there serves with half of the wanted gap: house rule.
_SPARE_GAP = 0.5


@dataclass(frozen=True, slots=True)
class Strip:
    """Pieces of the same length: what they are for, mm, how many."""

    use: str
    length_mm: float
    count: int


@dataclass(frozen=True, slots=True)
class ClampFrame:
    """Two equal rings between which the sheet is clamped.

    Attributes
    ----------
    inside_mm, outside_mm : width and depth
    member_mm : width of the strips that they are made of
    strips : pieces for both rings, butt-jointed, the long ones running through
    clamps : how many hold them together
    """

    inside_mm: tuple[float, float]
    outside_mm: tuple[float, float]
    member_mm: float
    strips: tuple[Strip, ...]
    clamps: int


@dataclass(frozen=True, slots=True)
class Reduction:
    """What makes a machine's opening smaller.

    Attributes
    ----------
    plate_mm : width and depth of the mask plate
    platen_known : whether that is the platen's own size
    cut_out_mm : width and depth of its cut-out, that of the frame's opening
    gasket_mm : width and depth of the ring of gasket, along its middle
    gasket : its strips, mitred at the corners, outer lengths
    frame : the pair of clamp frames
    """

    plate_mm: tuple[float, float]
    platen_known: bool
    cut_out_mm: tuple[float, float]
    gasket_mm: tuple[float, float]
    gasket: tuple[Strip, ...]
    frame: ClampFrame


@dataclass(frozen=True, slots=True)
class OwnFrame:
    """A frame that is there already and would serve.

    Attributes
    ----------
    inside_mm : width and depth, turned as it would be used
    gap_mm : least gap to the base in it
    more_sheet : its blank over that of the planned opening, as a ratio
    """

    inside_mm: tuple[float, float]
    gap_mm: float
    more_sheet: float


@dataclass(frozen=True, slots=True)
class RigPlan:
    """How sheet and buck are held.

    Attributes
    ----------
    opening_mm : clear width and depth of the clamp frame
    gap_mm : least gap between base and frame along width and depth
    grip_mm : width of sheet under the clamp
    blank_mm : width and depth of the sheet to cut
    dead_mm : height of the clamp plane over the platen; what lies below is not formed
    height_mm : of the buck
    free_mm : room left under the machine's greatest height; None where that is not known
    round_opening : whether the opening is round; width and depth are its diameter then
    reduction : the reducing set; None where the machine's own frame is used
    owned : the smallest frame of the user's own that would serve; None if there is none
    """

    opening_mm: tuple[float, float]
    gap_mm: tuple[float, float]
    grip_mm: float
    blank_mm: tuple[float, float]
    dead_mm: float
    height_mm: float
    free_mm: float | None
    reduction: Reduction | None
    owned: OwnFrame | None
    round_opening: bool = False

    def to_dict(self) -> dict[str, Any]:
        """The section `rig` of the report."""
        told: dict[str, Any] = {
            "opening_mm": self.opening_mm,
            "gap_mm": self.gap_mm,
            "grip_mm": self.grip_mm,
            "blank_mm": self.blank_mm,
            "dead_mm": self.dead_mm,
            "free_mm": self.free_mm,
            "owned": None,
            "reducing_set": None,
        }
        if self.owned is not None:
            told["owned"] = asdict(self.owned)
        if self.reduction is not None:
            told["reducing_set"] = _reduction_dict(self.reduction)
        return told


def clamp_plane_mm(*, reducing: bool, mask_mm: float, gasket_mm: float, squeeze: float) -> float:
    """Height of the clamp plane over the platen: what lies lower is not formed.

    Parameters
    ----------
    reducing : whether a reducing set lies on the platen; without one the sheet comes down to it
    mask_mm, gasket_mm : thickness of the plate, height of the free gasket
    squeeze : share of its height that the gasket gives way, 0..1

    Returns
    -------
    float : mm

    Examples
    --------
    >>> clamp_plane_mm(reducing=True, mask_mm=3.0, gasket_mm=6.0, squeeze=0.5)
    6.0
    """
    return mask_mm + gasket_mm * (1.0 - squeeze) if reducing else 0.0


def gripped(opening_mm: tuple[float, float], grip_mm: float) -> tuple[float, float]:
    """An opening with what is clamped on each side of it: the blank, and the outside of a frame.

    Parameters
    ----------
    opening_mm : clear width and depth
    grip_mm : width of sheet under the clamp

    Returns
    -------
    tuple : width and depth, mm
    """
    return opening_mm[0] + 2.0 * grip_mm, opening_mm[1] + 2.0 * grip_mm


def plan_rig(
    *,
    base_mm: tuple[float, float],
    height_mm: float,
    opening_mm: tuple[float, float],
    grip_mm: float,
    reducing: bool,
    platen_mm: tuple[float, float] | None,
    dead_mm: float,
    gasket_width_mm: float,
    machine_height_mm: float | None = None,
    owned_mm: tuple[tuple[float, float], ...] = (),
    round_opening: bool = False,
) -> RigPlan:
    """Plan opening, blank and, where it is asked for, the reducing set.

    Parameters
    ----------
    base_mm : width and depth of the buck's base
    height_mm : of the buck
    opening_mm : clear width and depth of the frame; a reduced one is made to whole millimetres
    grip_mm : width of sheet under the clamp on each side
    reducing : whether a mask plate, a gasket and a frame are made for that opening
    platen_mm : width and depth of the platen; None if it is not known
    dead_mm : see `clamp_plane_mm`
    gasket_width_mm : of its strip
    machine_height_mm : greatest height of a buck; None if it is not known
    owned_mm : clear width and depth of frames that are there already
    round_opening : whether the opening is round

    Returns
    -------
    RigPlan

    Notes
    -----
    Blank = opening + two grips. The cut-out of the plate is the opening of the frame. The ring of gasket lies
    2 mm back from the edge; its strips are mitred, so their outer lengths are given.
    """
    opening = tuple(math.ceil(side / _STEP_MM) * _STEP_MM for side in opening_mm) if reducing else opening_mm
    width, depth = opening
    blank = gripped((width, depth), grip_mm)
    gap = ((width - base_mm[0]) / 2.0, (depth - base_mm[1]) / 2.0)
    return RigPlan(
        opening_mm=(width, depth),
        gap_mm=gap,
        grip_mm=grip_mm,
        blank_mm=blank,
        dead_mm=dead_mm,
        height_mm=height_mm,
        free_mm=None if machine_height_mm is None else machine_height_mm - height_mm,
        reduction=_reduction((width, depth), grip_mm, platen_mm, gasket_width_mm) if reducing else None,
        owned=_owned(base_mm, gap, blank, grip_mm, owned_mm),
        round_opening=round_opening,
    )


def _reduction(
    opening: tuple[float, float],
    grip: float,
    platen: tuple[float, float] | None,
    gasket_width: float,
) -> Reduction:
    width, depth = opening
    plate = gripped(opening, _BORDER_MM) if platen is None else turned_like(platen, opening)
    middle = 2.0 * (_SETBACK_MM + gasket_width / 2.0)
    outer = 2.0 * (_SETBACK_MM + gasket_width)
    gasket = (
        Strip("gasket, along the width", width + outer, 2),
        Strip("gasket, along the depth", depth + outer, 2),
    )
    outside = gripped(opening, grip)
    strips = (
        Strip("frame, running through", outside[0], 4),
        Strip("frame, between them", depth, 4),
    )
    around = 2.0 * (outside[0] + outside[1])
    clamps = max(_LEAST_CLAMPS, 2 * math.ceil(around / _CLAMP_EVERY_MM / 2.0))
    return Reduction(
        plate_mm=plate,
        platen_known=platen is not None,
        cut_out_mm=opening,
        gasket_mm=(width + middle, depth + middle),
        gasket=gasket,
        frame=ClampFrame(opening, outside, grip, strips, clamps),
    )


def _owned(
    base: tuple[float, float],
    gap: tuple[float, float],
    blank: tuple[float, float],
    grip: float,
    owned: tuple[tuple[float, float], ...],
) -> OwnFrame | None:
    """The smallest frame, either way round, that leaves enough of the gap."""
    wanted = min(gap) * _SPARE_GAP
    found = []
    for sides in owned:
        for width, depth in (sides, sides[::-1]):
            left = min((width - base[0]) / 2.0, (depth - base[1]) / 2.0)
            if left >= wanted > 0.0:
                sheet = math.prod(gripped((width, depth), grip)) / (blank[0] * blank[1])
                found.append(OwnFrame((width, depth), left, sheet))
    return min(found, key=lambda frame: frame.more_sheet, default=None)


def _reduction_dict(reduction: Reduction) -> dict[str, Any]:
    frame = reduction.frame
    return {
        "plate_mm": reduction.plate_mm,
        "platen_known": reduction.platen_known,
        "cut_out_mm": reduction.cut_out_mm,
        "gasket_ring_mm": reduction.gasket_mm,
        "gasket_strips": [asdict(strip) for strip in reduction.gasket],
        "frame_inside_mm": frame.inside_mm,
        "frame_outside_mm": frame.outside_mm,
        "frame_strips": [asdict(strip) for strip in frame.strips],
        "clamps": frame.clamps,
    }
