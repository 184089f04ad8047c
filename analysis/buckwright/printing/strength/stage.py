"""The stage that judges whether the print survives the pull."""

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.printing.materials import PRINT_MATERIALS
from buckwright.printing.settings import PrintSettings
from buckwright.printing.strength import findings
from buckwright.printing.strength.settings import StrengthSettings
from buckwright.stage import Answer, Figure, Stage, Told, entry_of

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.heating.heated import Heated
    from buckwright.forming.heating.settings import HeatingSettings
    from buckwright.forming.sheets.settings import SheetSettings
    from buckwright.printing.strength.heat import Contact, Pulls
    from buckwright.printing.strength.judging import Strength
    from buckwright.shape.buck.finishing import Buck
    from buckwright.shape.hollow.cavity import Cavity
    from buckwright.shape.hollow.settings import HollowSettings

__all__ = ["STRENGTH"]

_STANDING_MM = 0.05
_NO_PANEL_MM = 0.5
"""A shell that is cast full has none."""


def _judge(
    buck: "Buck",
    heated: "Heated",
    hollowed: "Cavity | None",
    hollow: "HollowSettings",
    sheet: "SheetSettings",
    heating: "HeatingSettings",
    print: PrintSettings,
    strength: StrengthSettings,
    clock: "Clock",
) -> "Strength":
    from buckwright.printing.strength.judging import judge_print

    with clock.step("judging the print"):
        return judge_print(
            print,
            strength,
            footprint_mm2=buck.solid.slice(_STANDING_MM).hull().area(),
            standing_mm2=buck.solid.slice(_STANDING_MM).area(),
            contact=_contact(heated, sheet, heating, strength),
            buck_c=heating.buck_c,
            hollow=None if hollowed is None else (_panel(hollowed, hollow), hollow.wall_mm),
        )


def _panel(hollowed: "Cavity", hollow: "HollowSettings") -> float:
    """Side of the widest panel between ribs; 0 without ribs, as such a buck is cast full."""
    return max(hollowed.spacing_mm - hollow.rib_mm, 0.0)


def _contact(
    heated: "Heated", sheet: "SheetSettings", heating: "HeatingSettings", strength: StrengthSettings
) -> "Contact | None":
    """None where the sheet cannot be heated as it is set, or never cools enough."""
    from buckwright.forming.heating.sheet_heating import in_room, sheet_layer
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.printing.strength.heat import Contact

    if not heated.works or not math.isfinite(heated.cool_s):
        return None
    return Contact(
        sheet=sheet_layer(material_of(sheet.material), sheet.thickness_mm),
        sheet_c=heated.mean_c,
        hold_s=heated.cool_s,
        rest_s=strength.rest_s,
        room=in_room(heating, heating.room_c),
    )


def _findings(judged: "Strength", told: Told) -> "list[Finding]":
    return findings.about_strength(judged, told.job.strength)


def _sections(judged: "Strength", _told: Told) -> Mapping[str, Any]:
    return {"strength": judged.to_dict()}


def _answers(judged: "Strength", _told: Told) -> list[Answer]:
    if not (judged.skin_holds and judged.infill_holds):
        what = "infill" if not judged.infill_holds else "skin"
        return [Answer("Survives", f"doubtful: the {what} of the print is too weak.")]
    if judged.cold is None:
        return [Answer("Survives", "the pressure, yes; the heat is not known.")]
    if not judged.cold.lasts:
        return [Answer("Survives", f"no: {judged.material} gives way to the heat of the sheet.")]
    pulls = counted(judged.cold.lasts, "pull")
    if judged.cold.endless:
        return [Answer("Survives", f"yes: {pulls} in a row and more, printed of {judged.material}.")]
    if judged.cold.lasts == 1:
        return [Answer("Survives", f"one pull at a time, printed of {judged.material}: let it cool between.")]
    return [Answer("Survives", f"about {pulls} in a row, printed of {judged.material}; then let it cool.")]


def _facts(judged: "Strength", _told: Told) -> list[str]:
    facts = []
    if judged.panel_mm > _NO_PANEL_MM:
        apart = f"{'ribs' if judged.hollow else 'infill'} {judged.panel_mm:.0f} mm apart"
        facts.append(
            f"With a safety of {judged.safety:g}, {apart} want a shell of {judged.least_shell_mm:.1f} mm, "
            f"and a shell of {judged.shell_mm:g} mm bears {judged.widest_panel_mm:.0f} mm"
        )
    if judged.cold is not None and judged.warm is not None:
        facts.append(
            f"Pulls before a rest, printed of {judged.material}: {_pulls(judged.cold)}, preheated to "
            f"{judged.preheat_c:.0f} \u00b0C {_pulls(judged.warm)}"
        )
        facts.append(f"The first pull brings {judged.cold.heat_kj_m2:.0f} kJ/m\u00b2 of heat into the print")
    return [*facts, _by_material(judged)]


def _pulls(pulls: "Pulls") -> str:
    if not pulls.lasts:
        return "none"
    return f"{pulls.lasts} and more" if pulls.endless else f"about {pulls.lasts}"


def _by_material(judged: "Strength") -> str:
    """Verdicts, the materials in groups."""
    groups: dict[str, list[str]] = {}
    for name, one in judged.verdicts.items():
        weak = not (one.skin_holds and one.infill_holds)
        words = "too weak for the pressure" if weak else (one.heat or "bears the pressure, heat not known")
        groups.setdefault(words, []).append(PRINT_MATERIALS[name].title)
    return "In the first pull: " + "; ".join(
        f"{words}: {', '.join(names)}" for words, names in groups.items()
    )


STRENGTH = Stage(
    name="strength",
    title="judging the print",
    gives="judged",
    needs=("buck", "heated", "hollowed", "hollow", "sheet", "heating", "print", "strength"),
    run=_judge,
    tables={"strength": StrengthSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    facts=_facts,
    figures=(
        Figure(name="pulls", label="Pulls in a Row", of=entry_of("strength.cold.lasts"), better="more"),
    ),
)
