"""What there is to say of whether the print survives."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted
from buckwright.printing.materials import PRINT_MATERIALS
from buckwright.printing.strength.settings import ATMOSPHERE_MPA, StrengthSettings

if TYPE_CHECKING:
    from buckwright.printing.strength.judging import Strength

__all__ = ["KINDS", "about_strength"]

SOFTENS = FindingKind(
    slug="print-softens",
    title="Print gives way to heat",
    why="A soft skin is dented by the atmosphere on the sheet, and detail creeps away pull by pull.",
    rule="The skin gives way once the heat of the sheet softens half of it; the sheet lies on it at full thickness "
    "until the part may be taken off.",
    source="two bodies in contact, Incropera ch. 5; half of the skin is a judgement",
    remedies=(
        "Print it of a plastic that bears more heat.",
        "Make the shell thicker, or fill the print with plaster or resin.",
        "Let the buck cool between pulls, and do not preheat it.",
        "Take a thinner sheet.",
    ),
)
CRUSHED = FindingKind(
    slug="infill-crushed",
    title="Infill may be crushed",
    why="The atmosphere presses on the whole buck once the sheet covers it.",
    rule="Open cells of infill bear 0.3 times the strength times the infill share to the power of 1.5; it must be "
    "the atmosphere times the safety at least.",
    source="Gibson & Ashby, Cellular Solids (from memory)",
    remedies=("More infill.", "Fill the print with plaster or resin through a hole underneath."),
)
DENTED = FindingKind(
    slug="skin-dented",
    title="Skin dents in",
    why="The skin bends in between the lines of infill or the ribs, and the pattern shows on the part.",
    rule="A square panel clamped all around, an atmosphere on it, must keep the stress under the strength over the "
    "safety and bend less than is allowed.",
    source="Roark's Formulas for Stress and Strain, table 11.4, case 8a",
    remedies=("A thicker shell.", "More infill, so that its lines are closer."),
)
KINDS = (SOFTENS, CRUSHED, DENTED)


def about_strength(strength: "Strength", settings: StrengthSettings) -> list[Finding]:
    """Findings about the strength of the print.

    Parameters
    ----------
    strength : from `judge_print`
    settings : as it was judged with

    Returns
    -------
    list of Finding
    """
    found = []
    if strength.cold is not None and not strength.cold.endless:
        found.append(_heat(strength))
    if not strength.infill_holds:
        found.append(
            CRUSHED.found(
                "warn",
                f"The infill is crushed at about {1e3 * strength.crushing_mpa:.0f} kPa; the atmosphere presses "
                f"with {1e3 * ATMOSPHERE_MPA:.0f} kPa, {settings.safety:g} times that is wanted.",
                "Print it with more infill.",
                setting="print.infill_share",
            )
        )
    if not strength.skin_holds:
        found.append(_dented(strength))
    return found


def _dented(strength: "Strength") -> Finding:
    needed = f"{strength.panel_mm:.0f} mm apart; {strength.least_shell_mm:.1f} mm are needed."
    if strength.hollow:
        return DENTED.found(
            "warn",
            f"The wall of {strength.shell_mm:g} mm bends in between ribs {needed}",
            "Make the wall thicker or the ribs closer.",
            setting="hollow.spacing_mm",
        )
    return DENTED.found(
        "warn",
        f"The skin of {strength.shell_mm:g} mm bends over infill {needed}",
        "Make the shell thicker or the infill closer.",
        setting="print.shell_mm",
    )


def _heat(strength: "Strength") -> Finding:
    pulls, material = strength.cold, PRINT_MATERIALS[strength.material]
    assert pulls is not None
    better = [
        PRINT_MATERIALS[name].title
        for name, one in strength.verdicts.items()
        if one.survives and one.heat == "stays hard"
    ]
    lasts = (
        f"bears about {counted(pulls.lasts, 'pull')} in a row" if pulls.lasts else "does not bear one pull"
    )
    return SOFTENS.found(
        "note" if pulls.lasts else "warn",
        f"{material.title} softens from {material.softens_c[0]:.0f} °C on; the sheet brings the face to "
        f"{pulls.contact_c:.0f} °C and softens {pulls.softened_mm[0]:.1f} of {strength.shell_mm:g} mm of skin: it "
        f"{lasts}.",
        "Let it cool between pulls" + (f", or print it of {better[0]}." if better else "."),
        setting="print.material",
    )
