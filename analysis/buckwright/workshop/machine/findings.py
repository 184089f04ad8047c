"""What there is to say of buck and machine."""

import math
from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted

if TYPE_CHECKING:
    from buckwright.workshop.machine.planning import MachinePlan

__all__ = ["KINDS", "about_machine"]

FIT = FindingKind(
    slug="machine-fit",
    title="Does not fit the machine",
    why="Half of the trouble that makers report begins with a buck, a frame or a sheet that does not go in.",
    rule="The base stands on the platen and passes through the frame, the buck with its riser is no taller than the "
    "machine takes, and the blank goes into the oven.",
    source="geometry; the machine's figures as its profile gives them",
    remedies=("Scale or turn the part.", "Lower the riser.", "Choose another machine."),
)
SAG = FindingKind(
    slug="sag-room",
    title="Too little room to sag",
    why="A hot sheet that touches the buck, or the shelf of the oven, chills there and tears.",
    rule="The greatest sag that is usual for this sheet in this opening is no more than the room under it.",
    source="shares of the opening as the sheet's table gives them",
    remedies=("Make the opening smaller.", "Take the sheet off earlier.", "Lower platen or shelf."),
)
SLOW = FindingKind(
    slug="weak-vacuum",
    title="Vacuum too weak or slow",
    why="The sheet is soft for a few seconds only; air that is left by then stays under it.",
    rule="Box and air under the sheet come down to the wanted pressure within 5 s, with the tank or the pump alone.",
    source="Boyle's law; pump-down as in Esposito, Fluid Power with Applications, ch. 14; 5 s is a house rule",
    remedies=(
        "Add a tank.",
        "Make the box under the platen smaller.",
        "Allow more pressure to be left, and expect softer detail.",
    ),
)
HOLES = FindingKind(
    slug="vents-blocked",
    title="Vents reach no hole",
    why="A vent that ends on closed platen draws no air.",
    rule="Every vent is joined by channels, and by the gap round the base, to a hole of the platen inside the opening.",
    source="graph of channels, gap and holes; the platen's middle hole under the middle of the base",
    remedies=(
        "Set the buck on legs or mesh.",
        "Move the buck until holes lie beside it.",
        "Name the holes, so that channels lead there.",
    ),
)
UNKNOWN = FindingKind(
    slug="platen-holes-unknown",
    title="Platen holes not known",
    why="Whether every vent gets vacuum, and which holes to mask, hangs on where the platen is open.",
    rule="Pitch and diameter of the platen's holes are given.",
    source="geometry",
    remedies=("Measure pitch and diameter, and give both with the machine.",),
)
CLEANER = FindingKind(
    slug="thick-for-a-cleaner",
    title="Thick sheet for a cleaner",
    why="A vacuum cleaner pulls with a fifth of an atmosphere: thick sheet chills before it lies in the corners.",
    rule="With a cleaner the sheet is at most 1.5 mm thick.",
    source="makers form 0.5 to 1 mm with cleaners (read); 1.5 mm as the limit is a house rule",
    remedies=("Use thinner sheet.", "Use a pump, with a tank for large parts."),
)
KINDS = (FIT, SAG, SLOW, HOLES, UNKNOWN, CLEANER)

_SLOWEST_S = 5.0
_CLEANER_MM = 1.5


def about_machine(plan: "MachinePlan", *, sheet_mm: float = 0.0, vacuum: str | None = None) -> list[Finding]:
    """Findings about buck and machine.

    Parameters
    ----------
    plan : of the machine
    sheet_mm : thickness of the sheet
    vacuum : 'cleaner', 'pump', or None where it is not known

    Returns
    -------
    list of Finding
    """
    found = [*_fit(plan), *_sag(plan), *_vacuum(plan), *_holes(plan)]
    if plan.holes is None and plan.fit.platen_mm is not None:
        words = "The platen's holes are not known, so nobody can tell whether every vent gets vacuum."
        advice = "Measure pitch and diameter of the holes, and give both."
        found.append(UNKNOWN.found("note", words, advice, setting="machine.hole_pitch_mm"))
    if vacuum == "cleaner" and sheet_mm > _CLEANER_MM:
        words = f"The sheet is {sheet_mm:g} mm thick; a cleaner forms up to about {_CLEANER_MM:g} mm."
        found.append(
            CLEANER.found("warn", words, "Use thinner sheet, or a pump.", setting="sheet.thickness_mm")
        )
    return found


def _fit(plan: "MachinePlan") -> list[Finding]:
    fit, found = plan.fit, []
    scale = fit.scale_to_fit
    smaller = f"At {math.floor(1000.0 * scale) / 10.0:g} % of its size it might fit." if scale < 1.0 else ""
    base = f"{fit.base_mm[0]:.0f} x {fit.base_mm[1]:.0f} mm"
    if fit.on_platen is False and fit.platen_mm is not None:
        if fit.round_platen:
            words = (
                f"The base needs {fit.reach_mm:.0f} mm across, the round platen has {fit.platen_mm[0]:g} mm."
            )
        else:
            words = f"The base of {base} does not stand on the platen of {fit.platen_mm[0]:g} x {fit.platen_mm[1]:g} mm."
        found.append(FIT.found("stop", words, smaller, setting="base.platen_mm"))
    if fit.passes is False:
        words = f"The base of {base} does not pass through the machine's own frame, so a frame of its own is planned."
        found.append(FIT.found("stop", words, smaller, setting="forecast.frame_mm"))
    elif fit.opening_fits is False:
        words = f"The opening of {fit.opening_mm[0]:.0f} x {fit.opening_mm[1]:.0f} mm is larger than the machine's own."
        found.append(FIT.found("warn", words, "Make the gap smaller.", setting="forecast.gap_mm"))
    if fit.low_enough is False:
        words = f"The buck is {fit.height_mm:.1f} mm tall, {fit.dead_mm:.1f} mm of it dead height; the machine takes {fit.most_mm:g} mm."
        found.append(FIT.found("stop", words, smaller, setting="forecast.machine_height_mm"))
    if fit.in_oven is False and fit.oven_mm is not None:
        words = (
            f"The blank of {fit.blank_mm[0]:.0f} x {fit.blank_mm[1]:.0f} mm does not go into the oven of "
            f"{fit.oven_mm[0]:g} x {fit.oven_mm[1]:g} mm."
        )
        found.append(FIT.found("warn", words, "Make the gap or the grip smaller.", setting="machine.oven_mm"))
    return found


def _sag(plan: "MachinePlan") -> list[Finding]:
    fit = plan.fit
    if fit.sags_free is not False:
        return []
    words = f"The sheet may sag by up to {fit.sag_mm:.0f} mm in this opening; there is room for {fit.sag_room_mm:g} mm."
    return [
        SAG.found("warn", words, "Watch the sag, or make the opening smaller.", setting="machine.sag_room_mm")
    ]


def _vacuum(plan: "MachinePlan") -> list[Finding]:
    suction = plan.suction
    if suction is None:
        return []
    if suction.shared_kpa is not None:
        if suction.shared_kpa <= suction.target_kpa:
            return []
        words = (
            f"Once tank and box share, {suction.shared_kpa:.1f} kPa are left under the sheet; "
            f"{suction.target_kpa:.1f} kPa are wanted."
        )
        return [
            SLOW.found("warn", words, "Draw the tank lower, or use a larger one.", setting="machine.tank_l")
        ]
    if suction.evacuate_s <= _SLOWEST_S:
        return []
    time = (
        f"take {suction.evacuate_s:.1f} s to come down to"
        if math.isfinite(suction.evacuate_s)
        else "never come down to"
    )
    air = suction.box_l + suction.under_sheet_l
    words = f"{air:.1f} l of air in the box and under the sheet {time} {suction.target_kpa:.1f} kPa."
    return [SLOW.found("warn", words, "Make the box smaller, or add a tank.", setting="machine.flow_l_min")]


def _holes(plan: "MachinePlan") -> list[Finding]:
    air = plan.air
    if air is None or air.reached.all():
        return []
    missed = int((~air.reached).sum())
    words = f"{counted(missed, 'vent')} of {len(air.reached)} reach no open hole of the platen."
    return [
        HOLES.found(
            "warn",
            words,
            "Set the buck on legs or a mesh, or move it until holes lie beside it.",
            setting="machine.hole_pitch_mm",
        )
    ]
