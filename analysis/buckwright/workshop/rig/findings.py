"""What there is to say of frame, opening and room."""

from buckwright.findings import Finding, FindingKind
from buckwright.workshop.rig.planning import RigPlan

__all__ = ["KINDS", "about_rig"]

PLATE = FindingKind(
    slug="mask-plate",
    title="Mask plate too small",
    why="Air that comes in beside the plate reaches the vacuum without pulling on the sheet.",
    rule="The plate is as large as the platen and reaches 10 mm beyond the gasket on every side.",
    source="house rule",
    remedies=("Give the platen's size.", "Make the gap smaller.", "Use the machine's own frame."),
)
DEAD = FindingKind(
    slug="dead-height",
    title="Foot below clamp",
    why="The sheet comes down to the gasket and no further, so what lies lower is not formed.",
    rule="The clamp plane of a reducing set stands over the platen by plate and squeezed gasket; the part must "
    "begin above it.",
    source="geometry",
    remedies=("Make the riser higher, or leave it to the rule.", "Use a thinner plate or a softer gasket."),
)
OWNED = FindingKind(
    slug="own-frame",
    title="Own frame serves",
    why="A frame that is made once serves many bucks.",
    rule="It leaves at least half of the wanted gap on every side.",
    source="house rule",
    remedies=("Give it as the frame, and forecast again.",),
)
ROOM = FindingKind(
    slug="frame-too-small",
    title="Frame too small",
    why="The sheet would be clamped on top of the buck.",
    rule="Base and opening leave a gap all round.",
    source="geometry",
    remedies=("Use a larger frame.", "Make the land narrower or the part smaller."),
)
KINDS = (PLATE, DEAD, OWNED, ROOM)

_BESIDE_GASKET_MM = 10.0


def about_rig(rig: RigPlan, *, trim_z_mm: float, flange_z_mm: float) -> list[Finding]:
    """Findings about the rig.

    Parameters
    ----------
    rig : from `plan_rig`
    trim_z_mm : height of the trim line over the platen
    flange_z_mm : height of the flange's upper side, or of the block's top

    Returns
    -------
    list of Finding
    """
    found = []
    if min(rig.gap_mm) <= 0.0:
        width, depth = rig.opening_mm
        found.append(
            ROOM.found(
                "stop",
                f"The base does not pass through the frame of {width:g} x {depth:g} mm.",
                "Use a larger frame, or make the land narrower.",
                setting="forecast.frame_mm",
            )
        )
    if rig.dead_mm > trim_z_mm - 1.0:
        found.append(
            DEAD.found(
                "stop",
                f"The clamp plane stands {rig.dead_mm:.1f} mm over the platen, the trim line {trim_z_mm:.1f} mm: "
                "the part's edge would not be formed.",
                "Make the riser higher by at least the difference.",
                setting="base.riser_mm",
            )
        )
    elif rig.dead_mm > flange_z_mm + 0.05:
        found.append(
            DEAD.found(
                "note",
                f"The lowest {rig.dead_mm - flange_z_mm:.1f} mm of the riser lie below the clamp plane and are not "
                "formed.",
                setting="base.riser_mm",
            )
        )
    found += _about_plate(rig)
    if rig.owned is not None:
        width, depth = rig.owned.inside_mm
        found.append(
            OWNED.found(
                "note",
                f"Your frame of {width:g} x {depth:g} mm would serve: {rig.owned.gap_mm:.0f} mm of gap at the "
                f"narrowest, {rig.owned.more_sheet:.2f} times the sheet of the planned opening.",
                "To forecast with it, give it as the frame.",
                setting="forecast.frame_mm",
            )
        )
    return found


def _about_plate(rig: RigPlan) -> list[Finding]:
    if rig.reduction is None:
        return []
    plate, ring = rig.reduction.plate_mm, rig.reduction.gasket_mm
    if not rig.reduction.platen_known:
        return [
            PLATE.found(
                "note",
                "The platen's size is not given, so the mask plate only reaches 60 mm beyond the opening.",
                "Give the platen's size.",
                setting="base.platen_mm",
            )
        ]
    beside = min(plate[0] - ring[0], plate[1] - ring[1]) / 2.0
    if beside >= _BESIDE_GASKET_MM:
        return []
    return [
        PLATE.found(
            "warn",
            f"The opening is nearly as large as the platen: only {max(beside, 0.0):.0f} mm of plate lie beyond the "
            "middle of the gasket.",
            "Make the gap smaller, or use the machine's own frame.",
            setting="forecast.gap_mm",
        )
    ]
