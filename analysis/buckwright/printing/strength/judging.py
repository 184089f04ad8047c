"""Whether a print survives: its skin between the lines of infill, the infill itself, and the heat."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from buckwright.printing.materials import PRINT_MATERIALS, PrintMaterial
from buckwright.printing.settings import PrintSettings
from buckwright.printing.strength.heat import MOST_PULLS, Contact, Pulls, pull_again
from buckwright.printing.strength.plates import clamped_rectangle, least_thickness_mm, widest_panel_mm
from buckwright.printing.strength.settings import ATMOSPHERE_MPA, StrengthSettings

__all__ = ["MaterialVerdict", "Strength", "crushing_mpa", "judge_print"]

_SMALL_MM = 0.1
_AIRY = 0.05
"""Air behind a wall takes up hardly any heat: as thin an infill as can be set."""

type Heat = Literal["stays hard", "softens at the face", "gives way"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialVerdict:
    """Whether the same print would survive, made of another material.

    Attributes
    ----------
    heat : what the first pull does to a cold one; None without heating figures
    least_shell_mm : thinnest skin for its panels
    skin_holds, infill_holds : whether both bear the atmosphere with their safety
    """

    heat: Heat | None
    least_shell_mm: float
    skin_holds: bool
    infill_holds: bool

    @property
    def survives(self) -> bool:
        """Whether pressure and heat leave it whole."""
        return self.skin_holds and self.infill_holds and self.heat != "gives way"

    def to_dict(self) -> dict[str, Any]:
        """Plain values for the report."""
        return {
            "survives": self.survives,
            "heat": self.heat,
            "least_shell_mm": self.least_shell_mm,
            "skin_holds": self.skin_holds,
            "infill_holds": self.infill_holds,
        }


@dataclass(frozen=True, slots=True, eq=False)
class Strength:
    """What `judge_print` found.

    Attributes
    ----------
    material : the word for what it is printed of
    force_n : of the atmosphere on the buck, onto the platen
    standing_mpa : that force over what of the underside touches the platen
    panel_mm : side of the panels between lines of infill
    stress_mpa, bend_mm : of a panel of the skin
    allowed_mpa : strength over safety
    least_shell_mm, widest_panel_mm : thinnest skin for these panels, widest panels for this skin
    crushing_mpa : pressure at which the infill is crushed
    cold, warm : pulls with a buck as cold as it is set, and preheated; None without heating figures
    verdicts : by print material
    safety, shell_mm : as they were set
    preheat_c : of the preheated buck
    hollow : whether the panels lie between the ribs of a hollow buck
    """

    material: str
    force_n: float
    standing_mpa: float
    panel_mm: float
    stress_mpa: float
    bend_mm: float
    allowed_mpa: float
    least_shell_mm: float
    widest_panel_mm: float
    crushing_mpa: float
    cold: Pulls | None
    warm: Pulls | None
    verdicts: "Mapping[str, MaterialVerdict]"
    safety: float
    shell_mm: float
    preheat_c: float
    hollow: bool

    @property
    def skin_holds(self) -> bool:
        """Whether the skin bears the pressure with its safety."""
        return self.shell_mm >= self.least_shell_mm

    @property
    def infill_holds(self) -> bool:
        """Whether the infill bears the pressure with its safety."""
        return self.crushing_mpa >= self.safety * ATMOSPHERE_MPA

    def to_dict(self) -> dict[str, Any]:
        """The section of the report."""
        names = (
            "force_n",
            "standing_mpa",
            "panel_mm",
            "stress_mpa",
            "bend_mm",
            "allowed_mpa",
            "least_shell_mm",
            "widest_panel_mm",
            "crushing_mpa",
        )
        return {
            "material": self.material,
            **{name: getattr(self, name) for name in names},
            "skin_holds": self.skin_holds,
            "infill_holds": self.infill_holds,
            "cold": _pulls(self.cold),
            "preheated": _pulls(self.warm),
            "verdicts": {name: one.to_dict() for name, one in self.verdicts.items()},
        }


def judge_print(
    printed: PrintSettings,
    strength: StrengthSettings,
    *,
    footprint_mm2: float,
    standing_mm2: float,
    contact: Contact | None,
    buck_c: float,
    hollow: tuple[float, float] | None = None,
) -> Strength:
    """Judge a print under an atmosphere and the heat of the sheet.

    Parameters
    ----------
    printed, strength : settings
    footprint_mm2 : area of the buck seen from above
    standing_mm2 : area of its underside that touches the platen
    contact : sheet and times; None where the sheet cannot be heated so
    buck_c : temperature of the buck before the first pull
    hollow : of a hollow buck the widest panel between ribs and the wall, mm, which is printed solid; without
        ribs, to be cast full, the panel is 0

    Returns
    -------
    Strength

    Notes
    -----
    The lines of infill run two ways, so a share phi of lines w wide leaves squares 2 w / phi apart, on which
    the skin is taken for clamped. Errs on the safe side: the least strength of the material's range is taken.
    """
    material = PRINT_MATERIALS[printed.material]
    panel, skin, share = 2.0 * printed.infill_line_mm / printed.infill_share, printed.shell_mm, 1.0
    if hollow is not None:
        panel, skin = max(hollow[0], _SMALL_MM), hollow[1]
    else:
        share = printed.infill_share
    allowed = material.strength_mpa[0] / strength.safety
    stiff = material.modulus_mpa[0]
    stress, bend = clamped_rectangle(ATMOSPHERE_MPA, panel, panel, skin, stiff)
    force = ATMOSPHERE_MPA * footprint_mm2

    def pulls(one: PrintMaterial, start_c: float, most: int) -> Pulls | None:
        if contact is None:
            return None
        how = {"shell_mm": skin, "infill_share": printed.infill_share if hollow is None else _AIRY}
        return pull_again(contact, one, **how, start_c=start_c, pulls=most)

    def verdict(one: PrintMaterial) -> MaterialVerdict:
        bears = one.strength_mpa[0] / strength.safety
        least = least_thickness_mm(ATMOSPHERE_MPA, panel, bears, one.modulus_mpa[0], strength.most_bend_mm)
        return MaterialVerdict(
            heat=_heat(pulls(one, buck_c, 1)),
            least_shell_mm=least,
            skin_holds=skin >= least,
            infill_holds=crushing_mpa(one, share) >= strength.safety * ATMOSPHERE_MPA,
        )

    verdicts = {name: verdict(one) for name, one in PRINT_MATERIALS.items()}
    return Strength(
        material=printed.material,
        force_n=force,
        standing_mpa=force / max(standing_mm2, 1e-9),
        panel_mm=panel,
        stress_mpa=stress,
        bend_mm=bend,
        allowed_mpa=allowed,
        least_shell_mm=verdicts[printed.material].least_shell_mm,
        widest_panel_mm=widest_panel_mm(ATMOSPHERE_MPA, skin, allowed, stiff, strength.most_bend_mm),
        crushing_mpa=crushing_mpa(material, share),
        cold=pulls(material, buck_c, MOST_PULLS),
        warm=pulls(material, strength.preheat_c, MOST_PULLS),
        verdicts=verdicts,
        safety=strength.safety,
        shell_mm=skin,
        preheat_c=strength.preheat_c,
        hollow=hollow is not None,
    )


def crushing_mpa(material: PrintMaterial, infill_share: float) -> float:
    """Pressure at which open cells of infill are crushed: 0.3 sigma phi^1.5 (Gibson & Ashby, from memory).

    A solid print (share 1) bears its full strength; cells are reckoned up to a share of 0.5, and between both
    the strength rises in a straight line.
    """
    strength = material.strength_mpa[0]
    if infill_share <= 0.5:
        return float(0.3 * strength * infill_share**1.5)
    half = float(0.3 * 0.5**1.5)
    return strength * (half + (1.0 - half) * (infill_share - 0.5) / 0.5)


def _heat(pulls: Pulls | None) -> Heat | None:
    if pulls is None:
        return None
    if not pulls.lasts:
        return "gives way"
    return "softens at the face" if pulls.softened_mm[0] > 0.0 else "stays hard"


def _pulls(pulls: Pulls | None) -> dict[str, Any] | None:
    if pulls is None:
        return None
    return {
        "contact_c": pulls.contact_c,
        "heat_kj_m2": pulls.heat_kj_m2,
        "softened_mm": list(pulls.softened_mm),
        "soft_s": pulls.soft_s,
        "face_c": list(pulls.face_c),
        "lasts": pulls.lasts,
        "and_more": pulls.endless,
    }
