"""The stage that hollows the buck from beneath."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.shape.hollow import findings
from buckwright.shape.hollow.settings import HollowSettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.shape.base.building import Blank
    from buckwright.shape.hollow.cavity import Cavity
    from buckwright.shape.underside.planning import Underside
    from buckwright.shape.vents.fitting import Vented

__all__ = ["HOLLOW"]

_WIDEST_MM = 30.0
"""A printer bridges no wider roof well: common practice, no source."""


def _plan(
    blank: "Blank",
    vented: "Vented",
    grooved: "Underside",
    hollow: HollowSettings,
    material: str,
    safety: float,
    most_bend_mm: float,
    clock: "Clock",
) -> "Cavity | None":
    """None for a buck that stays solid."""
    from manifold3d import CrossSection

    from buckwright.relief.columns import Columns
    from buckwright.shape.hollow.cavity import Kept, plan_cavity

    if hollow.kind == "solid" or blank.solid is None:
        return None
    letters = CrossSection() if grooved.engraving is None else grooved.engraving.outline
    beads = [vent.beads() for vent in vented.plan.vents]
    with clock.step("hollowing"):
        return plan_cavity(
            Columns(blank.mesh),
            Kept([*beads, *(hole.beads() for hole in grooved.fixings.holes)], letters),
            wall_mm=hollow.wall_mm,
            rib_mm=hollow.rib_mm,
            spacing_mm=_spacing(hollow, material, safety, most_bend_mm) if hollow.kind == "ribbed" else 0.0,
        )


def _spacing(hollow: HollowSettings, material: str, safety: float, most_bend_mm: float) -> float:
    from buckwright.printing.materials import PRINT_MATERIALS
    from buckwright.printing.strength.plates import widest_panel_mm
    from buckwright.printing.strength.settings import ATMOSPHERE_MPA

    if hollow.spacing_mm is not None:
        return hollow.spacing_mm
    one = PRINT_MATERIALS[material]
    allowed = one.strength_mpa[0] / safety
    bears = widest_panel_mm(ATMOSPHERE_MPA, hollow.wall_mm, allowed, one.modulus_mpa[0], most_bend_mm)
    return min(bears + hollow.rib_mm, _WIDEST_MM)


def _findings(cavity: "Cavity | None", told: Told) -> "list[Finding]":
    hollow = told.job.hollow
    if hollow.kind == "solid":
        return []
    return findings.about_hollow(found=cavity is not None, wall_mm=hollow.wall_mm)


def _sections(cavity: "Cavity | None", told: Told) -> Mapping[str, Any]:
    if cavity is None:
        return {}
    return {
        "hollow": {
            "kind": told.job.hollow.kind,
            "wall_mm": told.job.hollow.wall_mm,
            "spacing_mm": cavity.spacing_mm,
            "cavity_mm3": cavity.volume_mm3,
        }
    }


def _facts(cavity: "Cavity | None", _told: Told) -> list[str]:
    if cavity is None:
        return []
    ribs = f", ribs every {cavity.spacing_mm:.0f} mm" if cavity.spacing_mm else ", to be cast full"
    return [f"Hollow from beneath: {cavity.volume_mm3 / 1000.0:.0f} cm3 left out{ribs}"]


def _automatic(cavity: "Cavity | None") -> Mapping[str, Any]:
    return {"hollow.spacing_mm": cavity.spacing_mm} if cavity is not None and cavity.spacing_mm else {}


HOLLOW = Stage(
    name="hollow",
    title="hollowing",
    gives="hollowed",
    needs=(
        "blank",
        "vented",
        "grooved",
        "hollow",
        "print.material",
        "strength.safety",
        "strength.most_bend_mm",
    ),
    run=_plan,
    tables={"hollow": HollowSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    automatic=_automatic,
)
