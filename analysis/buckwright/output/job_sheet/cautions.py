"""Cautions and steps that fit the sheet, the heater, the vacuum and what the part is for.

Fume: HSE Plastics Processing Sheet 13 (2002), by the table of sheets. Acrylic vapour: an acrylic forming
manual (copied text). Lamps: softening of the sheet, by its table. Eyes: ANSI Z87.1 and EN 166; helmets:
16 CFR 1203; a formed shell is tested to none of them. Food: clearance applies to the finished article,
21 CFR 174-186 (read second-hand). Covering the face, blocked cleaners: judgement.
Clear parts: polish and the warmth of the buck from memory; wiping with water and microfibre, and that a warm
buck left PETG clear and without pinpricks, from the log of a solar car's team (read).
"""

from collections.abc import Mapping
from typing import Any

from buckwright.output.summary import CAUTIONS

__all__ = ["cautions", "steps_of_use"]

_OF_USE = {
    "worn": "Worn: no protective gear. Deburr every edge, and leave gaps that move with the body.",
    "face": (
        "Over face or head: leave openings for nose, mouth and sight, check the view to the sides, and never "
        "put it on young children. It is no helmet and protects no eyes: it is tested for neither."
    ),
    "food": (
        "Food or skin: use sheet that is cleared for it, with a clean buck of its own; the finished part "
        "needs the clearance, and layer lines that print through cannot be cleaned."
    ),
}
_STEPS_OF_USE = {
    "clear": (
        "Clear part: polish the buck where the part is looked through; every layer and scratch of it shows.",
        "Wipe buck and sheet with water and microfibre, then blow them clean: lint stays in the surface.",
        "Warm the buck to the touch, about 40 °C and no more for PLA: a cold one leaves chill marks.",
    ),
}
_CLEANER = "A vacuum cleaner overheats while it is blocked: seconds, not minutes."
_ACRYLIC = "Overheated acrylic gives off flammable vapour: never in a kitchen oven."


def cautions(report: Mapping[str, Any], *, material: str, use: str, vacuum: str) -> list[str]:
    """Cautions, the general ones first.

    Parameters
    ----------
    report : plain values, as report.json holds them
    material : of the sheet, as the job names it
    use : what the part is for, as the job says
    vacuum : what draws the air, as the machine says

    Returns
    -------
    list of lines
    """
    heating, lines = report.get("heating") or {}, [CAUTIONS]
    if fume := (heating.get("fume") or {}).get("words"):
        lines.append(f"Fume: {fume}")
    if material == "PMMA":
        lines.append(_ACRYLIC)
    if vacuum == "cleaner":
        lines.append(_CLEANER)
    if use == "lamp":
        lines.append(_lamp(heating.get("softening_c")))
    elif use in _OF_USE:
        lines.append(_OF_USE[use])
    return lines


def steps_of_use(use: str) -> tuple[str, ...]:
    """Steps before the sheet is clamped that only some parts need.

    Parameters
    ----------
    use : what the part is for, as the job says
    """
    return _STEPS_OF_USE.get(use, ())


def _lamp(softening: Mapping[str, Any] | None) -> str:
    limit = f"this sheet softens from {softening['low']:g} °C" if softening else "sheet softens early"
    return (
        f"Lamp: LED only, with air around it; {limit}, so keep every place of it well below. Electrical "
        "parts are for those who may fit them."
    )
