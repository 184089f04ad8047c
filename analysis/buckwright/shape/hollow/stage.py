"""The stage that hollows the buck from beneath."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.shape.hollow import findings
from buckwright.shape.hollow.settings import HollowSettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from manifold3d import CrossSection

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
    channel_width_mm: float,
    channel_depth_mm: float,
    platen_holes_mm: tuple[tuple[float, float], ...] | None,
    clock: "Clock",
) -> "Cavity | None":
    """None for a buck that stays solid."""
    import numpy as np
    from manifold3d import CrossSection

    from buckwright.relief.columns import Columns
    from buckwright.shape.hollow.cavity import Kept, plan_cavity
    from buckwright.shape.hollow.openings import Ground, aired, floored
    from buckwright.shape.underside.channels import channel_outline

    if hollow.kind == "solid" or blank.solid is None:
        return None
    assert blank.plan is not None
    letters = CrossSection() if grooved.engraving is None else grooved.engraving.outline
    beads = [vent.beads() for vent in vented.plan.vents]
    ground = Ground(
        blank.plan.underside,
        channel_outline(grooved.channels),
        _keep_out(grooved, letters, hollow.wall_mm),
        np.array(platen_holes_mm or (), np.float64).reshape(-1, 2),
        (channel_width_mm, channel_depth_mm),
    )
    with clock.step("hollowing"):
        cavity = plan_cavity(
            Columns(blank.mesh),
            Kept([*beads, *(hole.beads() for hole in grooved.fixings.holes)], letters),
            wall_mm=hollow.wall_mm,
            rib_mm=hollow.rib_mm,
            spacing_mm=_spacing(hollow, material, safety, most_bend_mm) if hollow.kind == "ribbed" else 0.0,
        )
        if cavity is None:
            return None
        if hollow.kind == "cast":
            return floored(cavity, ground, wall_mm=hollow.wall_mm, pour_mm=hollow.pour_mm)
        return aired(cavity, ground)


def _keep_out(grooved: "Underside", letters: "CrossSection", wall_mm: float) -> "CrossSection":
    """Screw holes, magnets and letters, with a wall around them."""
    from manifold3d import CrossSection, OpType

    from buckwright.shape.loft import grown

    holes = [
        CrossSection.circle(radius + wall_mm, 48).translate((x, y))
        for x, y, radius in grooved.fixings.circles
    ]
    pad = [] if letters.is_empty() else [grown(letters.hull(), wall_mm)]
    return CrossSection.batch_boolean([*holes, *pad], OpType.Add) if holes or pad else CrossSection()


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
    if cavity is None:
        return findings.about_no_hollow(hollow.wall_mm)
    return findings.about_cast(cavity) if hollow.kind == "cast" else []


def _sections(cavity: "Cavity | None", told: Told) -> Mapping[str, Any]:
    if cavity is None:
        return {}
    return {
        "hollow": {
            "kind": told.job.hollow.kind,
            "wall_mm": told.job.hollow.wall_mm,
            "spacing_mm": cavity.spacing_mm,
            "cavity_mm3": cavity.volume_mm3,
            "grooves": cavity.grooves,
            "pour_holes": [hole.to_dict() for hole in cavity.pours],
            "air_holes": [hole.to_dict() for hole in cavity.airs],
        }
    }


def _facts(cavity: "Cavity | None", _told: Told) -> list[str]:
    if cavity is None:
        return []
    left_out = f"{cavity.volume_mm3 / 1000.0:.0f} cm3 left out"
    if cavity.pours:
        holes = f"{counted(len(cavity.pours), 'pour hole')} and {counted(len(cavity.airs), 'air hole')}"
        return [f"A shell to be cast full: {left_out}, {holes} in its floor"]
    return [f"Hollow from beneath: {left_out}, ribs every {cavity.spacing_mm:.0f} mm"]


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
        "vents.channel_width_mm",
        "vents.channel_depth_mm",
        "vents.platen_holes_mm",
    ),
    run=_plan,
    tables={"hollow": HollowSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    automatic=_automatic,
)
