"""The work at the bench in its order, as the job sheet has it."""

from collections.abc import Mapping
from typing import Any

from buckwright.output.job_sheet.cautions import steps_of_use
from buckwright.output.job_sheet.edge import drill_steps, trim_step
from buckwright.output.job_sheet.markup import by_words

__all__ = ["work_steps"]

_CUE = "It ripples, pulls flat and tight again, and has begun to sag evenly when it is ready."


def work_steps(report: Mapping[str, Any], use: str) -> list[str]:
    """The order of work at the bench; common practice where the report holds no figure.

    Parameters
    ----------
    report : plain values, as report.json holds them
    use : what the part is for, as the job says

    Returns
    -------
    list of lines
    """
    rig, base, venting = report.get("rig"), report.get("base"), report.get("venting")
    steps = ["Print the buck foot down, and sand its layers where the part will show them."]
    if (report.get("templates") or {}).get("drawings"):
        steps.append("Print templates.pdf at 100 % and measure its 100 mm bars before you cut by it.")
    if venting and venting["vents_to_drill"]:
        steps.append("Drill the vents at the dimples.")
    steps.append("Blow through every vent: air must come out in the channels underneath.")
    steps.append(
        "Fix the buck to its board or platen; its channels must reach open holes. Mask the other holes."
    )
    if rig and rig["reducing_set"]:
        steps.append("Lay mask plate and gasket; the clamp frame must sit on the gasket all round.")
    if rig:
        size = by_words(rig["blank_mm"])
        steps.append(f"Cut blanks of {size} mm, all the same way round; peel off both films.")
    steps += [*_drying(report), *_printing(report), *steps_of_use(use)]
    steps.append("Clamp the sheet. Heater on, ventilation on, fire extinguisher at hand; stay with it.")
    steps += _heat_steps(report)
    steps.append(_hold_step(report))
    steps.append("Ease the flange off first, then lift evenly; never pull at a thin edge.")
    if base:
        steps.append(trim_step(base, report.get("edge") or {}))
    steps += [*drill_steps(report), *_finishing(report)]
    steps.append("Deburr the edge, and write the pull down before the next one.")
    return steps


def _heat_steps(report: Mapping[str, Any]) -> list[str]:
    """How long, what to watch, and how long it then holds."""
    heating = report.get("heating") or {}
    steps = []
    earliest, latest = heating.get("earliest_s"), heating.get("latest_s")
    if heating.get("works") and earliest is not None and latest is not None:
        steps.append(
            f"Expect the sheet to be ready between {earliest:.0f} and {latest:.0f} s, if the heater is "
            "as strong as the job says; believe the sheet, not the clock."
        )
    cue = (heating.get("cue") or {}).get("words", _CUE)
    steps.append(f"Watch the sheet. {cue}" + ("" if "smoke" in cue.lower() else " Smoke is too late."))
    if heating.get("sag_mm"):
        low, high = heating["sag_mm"]
        steps.append(f"A sag of {low:.0f} to {high:.0f} mm is usual for this opening.")
    if heating.get("hold_s") is not None:
        steps.append(f"From the heater to the buck within about {heating['hold_s']:.0f} s.")
    return steps


def _drying(report: Mapping[str, Any]) -> list[str]:
    """What damp sheet needs; nothing for one that takes up no water."""
    drying = (report.get("heating") or {}).get("drying")
    if not drying or not drying["high_h"]:
        return []
    most = f"{drying['high_h']:g} h at {drying['at_c']:g} °C."
    if not drying["low_h"]:
        return [f"If bubbles show, dry the sheet: up to {most}"]
    return [f"Dry sheet that has lain open: {drying['low_h']:g} to {most}"]


def _printing(report: Mapping[str, Any]) -> list[str]:
    """How a sheet that is printed is laid."""
    artwork = report.get("artwork")
    if not artwork:
        return []
    pips = "; after the pull each cross must lie on its pip" if artwork["pips"] else ""
    return [
        f"Print the {artwork['side']} side of the sheet at 100 %, and pin it in the frame by the marks in "
        f"its corners{pips}."
    ]


def _hold_step(report: Mapping[str, Any]) -> str:
    cool = (report.get("heating") or {}).get("cool_s")
    stiff = "" if cool is None else f", about {cool:.0f} s"
    return f"Vacuum on, bring the frame down fast and level, and hold until the part is stiff{stiff}."


def _finishing(report: Mapping[str, Any]) -> list[str]:
    notes = (report.get("heating") or {}).get("finishing")
    return [f"Glue and paint. {notes['words']}"] if notes else []
