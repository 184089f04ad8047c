"""The stage that parts the finished buck into what is printed closed and what is printed porous."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.shape.porous import findings
from buckwright.shape.porous.settings import PorousSettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.shape.base.building import Blank
    from buckwright.shape.buck.finishing import Buck
    from buckwright.shape.porous.parting import Parted

__all__ = ["POROUS"]

_PIXELS = 512
"""Along the longer side: a fifth of a millimetre on a small buck, a print's line on a large one."""


def _part(buck: "Buck", blank: "Blank", porous: PorousSettings, clock: "Clock") -> "Parted | None":
    """None where no place is flat and wide enough."""
    from buckwright.relief.raster import relief_of
    from buckwright.shape.porous.parting import part_porous, porous_outline

    assert blank.plan is not None
    with clock.step("parting off the porous top"):
        outline = porous_outline(
            relief_of(blank.mesh, pixel_mm=float(blank.mesh.size[:2].max()) / _PIXELS),
            blank.plan.part,
            trim_mm=blank.plan.trim_z_mm,
            cavity=blank.plan.over,
            wall_mm=porous.wall_mm,
            steepest_deg=porous.steepest_deg,
        )
        return part_porous(buck.solid, outline)


def _findings(parted: "Parted | None", told: Told) -> "list[Finding]":
    if not told.job.porous.enabled:
        return []
    pieces = told.get("pieces")
    return findings.about_porous(
        open_mm2=None if parted is None else parted.open_mm2,
        infill_share=told.job.porous.infill_share,
        split=pieces is not None and pieces.split,
    )


def _sections(parted: "Parted | None", told: Told) -> Mapping[str, Any]:
    if parted is None:
        return {}
    return {
        "porous": {
            "open_mm2": parted.open_mm2,
            "volume_mm3": float(parted.porous.volume()),
            "closed_mm3": float(parted.closed.volume()),
            "infill_share": told.job.porous.infill_share,
        }
    }


def _facts(parted: "Parted | None", _told: Told) -> list[str]:
    if parted is None:
        return []
    volume = parted.porous.volume() / 1000.0
    return [f"Porous top: {volume:.0f} cm3 for sparse infill, {parted.open_mm2 / 100.0:.0f} cm2 open above"]


POROUS = Stage(
    name="porous",
    title="parting off the porous top",
    gives="parted_top",
    needs=("buck", "blank", "porous"),
    run=_part,
    tables={"porous": PorousSettings},
    wanted=lambda tables: bool(tables["porous"].enabled),
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
)
