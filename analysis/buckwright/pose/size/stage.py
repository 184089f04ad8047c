"""The stage that tells what the sculpt measures, and gives a slice to try on."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buckwright.pose.size.findings import SCALED, about_size
from buckwright.pose.size.settings import SizeSettings
from buckwright.stage import Papers, Stage, Told

if TYPE_CHECKING:
    from manifold3d import CrossSection

    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.entering import EnteredSculpt

__all__ = ["TRY_ON", "TryOn"]


@dataclass(frozen=True, slots=True, eq=False)
class TryOn:
    """What the sculpt measures.

    Attributes
    ----------
    measured_mm : after scaling
    factor : by which the sculpt was scaled for it; 1 where it was left as it is
    section : to try on, mm, or None
    """

    measured_mm: float
    factor: float
    section: "CrossSection | None"


def _measure(entered: "EnteredSculpt", size: SizeSettings, mirror: str, clock: "Clock") -> TryOn:
    from buckwright.pose.entering import whole_solid
    from buckwright.pose.size.measuring import level_mm, measured_mm
    from buckwright.pose.size.slicing import section_of

    clock.ask()
    mesh = entered.entered.mesh
    # points are given before scaling
    grown = entered.factor if size.measure == "distance" else 1.0
    measured = 0.0 if size.measure == "none" else grown * measured_mm(mesh, size)
    section = None
    if size.slice != "none":
        section = section_of(whole_solid(entered), size.along, level_mm(mesh, size))
        section = section if mirror == "none" else section.mirror((1.0, 0.0))
    return TryOn(measured, entered.factor, section)


def _findings(tried: TryOn, told: Told) -> "list[Finding]":
    return about_size(tried.factor, _words(tried, told))


def _words(tried: TryOn, told: Told) -> str:
    size = told.job.size
    if size.measure == "distance":
        return f"the distance is {tried.measured_mm:.1f} mm"
    where = f"across {size.along} at {size.level_share:g} of the sculpt"
    return f"the {size.measure} of the section {where} is {tried.measured_mm:.1f} mm"


def _sections(tried: TryOn, told: Told) -> Mapping[str, Any]:
    measured = tried.measured_mm if told.job.size.measure != "none" else None
    return {"size": {"measured_mm": measured, "factor": tried.factor}}


def _facts(tried: TryOn, told: Told) -> list[str]:
    if told.job.size.measure == "none":
        return []
    words = _words(tried, told)
    return [f"{words[:1].upper()}{words[1:]}, inside"]


def _files(tried: TryOn, told: Told) -> dict[str, bytes]:
    from buckwright.output.flat.dxf import dxf_bytes
    from buckwright.output.flat.pdf import pdf_bytes
    from buckwright.output.flat.svg import svg_bytes
    from buckwright.output.stl import stl_bytes
    from buckwright.output.storable import storable
    from buckwright.pose.size.slicing import ring_around, section_drawing

    size = told.job.size
    if tried.section is None:
        return {}
    words = f"{told.title}: section across {size.along} at {size.level_share:g}"
    if size.measure in ("width", "girth"):
        words += f", {size.measure} {tried.measured_mm:.1f} mm"
    drawing = section_drawing(tried.section, words)
    files = {
        "try_on.pdf": pdf_bytes([drawing], page=told.job.templates.page, title=words),
        "try_on.dxf": dxf_bytes(drawing),
        "try_on.svg": svg_bytes(drawing),
    }
    if size.slice == "ring":
        ring = ring_around(tried.section, wall_mm=size.wall_mm, high_mm=size.slice_mm)
        files["try_on_ring.stl"] = stl_bytes(storable(ring), title=words)
    return files


TRY_ON = Stage(
    name="try_on",
    title="measuring the sculpt",
    gives="tried",
    needs=("entered", "size", "sculpt.mirror"),
    run=_measure,
    wanted=lambda tables: tables["size"].measure != "none" or tables["size"].slice != "none",
    kinds=(SCALED,),
    findings=_findings,
    sections=_sections,
    facts=_facts,
    papers=(Papers(make=_files),),
)
