"""The stage that measures the clearance of the formed part."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import percent
from buckwright.pose.body.settings import BodySettings
from buckwright.stage import Answer, ColorMap, Papers, Stage, Told
from buckwright.workshop.clearance import findings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.pose.body.placing import PlacedBody
    from buckwright.pose.posing import Posed
    from buckwright.shape.base.building import Blank
    from buckwright.workshop.clearance.measuring import Clearance

__all__ = ["CLEARANCE"]


def _measure(
    posed: "Posed",
    placed: "PlacedBody | None",
    blank: "Blank",
    formed: "BuckForecast | None",
    body: BodySettings,
    thickness_mm: float,
    clock: "Clock",
) -> "Clearance | None":
    """None without a body, or where the part ends nowhere over or in the form.

    A part in a female mould is measured as it stands on its foot, and told as it lies in the mould.
    """
    import numpy as np

    from buckwright.mesh.triangles import Mesh
    from buckwright.pose.posing import placed as moved_in
    from buckwright.workshop.clearance.measuring import (
        buck_side,
        cavity_side,
        in_cavity,
        measure_clearance,
        moved,
    )

    if placed is None or blank.plan is None:
        return None
    plan = blank.plan
    with clock.step("measuring clearance"):
        trim, over = plan.trim_z_mm, plan.over
        rim = [np.asarray(ring, np.float64) for ring in plan.part.to_polygons()]
        if formed is None:
            sheet = cavity_side(blank.mesh, rim, trim) if over else buck_side(blank.mesh, trim)
            thick = np.full(sheet.vertex_count, thickness_mm)
        else:
            run = formed.forecast
            sheet, thick = Mesh(run.points, run.triangles), run.thickness_mm
            if over:
                sheet = Mesh(run.points, run.triangles[in_cavity(sheet, rim, trim)])
        there = plan.stand.matrix()
        back = np.linalg.inv(there) if over else np.eye(4)
        found = measure_clearance(
            sheet.transformed(back),
            thick,
            moved_in(placed.mesh, posed.matrix, posed.scale).transformed(back @ there),
            buck=blank.mesh.transformed(back),
            closed=placed.closed,
            trim_mm=plan.foot_z_mm - trim if over else trim,
            side=body.side,
            source="buck" if formed is None else "forecast",
            padding_mm=body.padding_mm,
            wanted_mm=body.clearance_mm,
            edge_mm=body.edge_mm if body.trim == "body" and not over else None,
            true=1.0 - posed.shrinkage,
            between=body.side == "inside" if over else None,
        )
        return moved(found, there) if over and found is not None else found


def _findings(cleared: "Clearance", _told: Told) -> "list[Finding]":
    return findings.about_clearance(cleared)


def _sections(cleared: "Clearance", told: Told) -> Mapping[str, Any]:
    growth = told.results["posed"].growth
    return {"clearance": cleared.to_dict() | {"grown": None if growth is None else growth.to_dict()}}


def _answers(cleared: "Clearance", _told: Told) -> list[Answer]:
    least = f"{cleared.least_mm:.1f} mm at the nearest place, {cleared.wanted_mm:g} mm wanted"
    if any(place.touches for place in cleared.places):
        words = f"no: touches over {percent(cleared.touch_share)} of the part"
    elif cleared.places:
        words = f"short: {least}"
    else:
        words = f"yes: {least}"
    return [Answer("Clears", f"{words}{_padded(cleared)}.")]


def _padded(cleared: "Clearance") -> str:
    return f", over {cleared.padding_mm:g} mm of padding" if cleared.padding_mm else ""


def _pictures(cleared: "Clearance", told: Told) -> Mapping[str, bytes]:
    from buckwright.workshop.clearance.pictures import draw_clearance

    return draw_clearance(cleared, title=told.title)


def _arrays(cleared: "Clearance", told: Told) -> Mapping[str, Any]:
    """`clearance_mm` for each face of the file; nan where the part does not lie."""
    import numpy as np
    from scipy.spatial import cKDTree

    sources = told.sources()
    if sources is None:
        return {}
    surface = cleared.surface
    places = told.stand.places(sources.middles)
    sides = surface.vertices[surface.faces] - surface.vertices[np.roll(surface.faces, -1, axis=1)]
    cell = float(np.linalg.norm(sides, axis=2).max(initial=0.0))
    part, posed = np.flatnonzero(cleared.part), told.results["posed"]
    # the surface that was grown or made smaller lies off the file's by so much
    moved = (0.0 if posed.growth is None else posed.growth.most_mm) + (
        0.0 if posed.offset is None else posed.offset.distance_mm
    )
    far, near = cKDTree(surface.vertices[part]).query(places, distance_upper_bound=cell + moved)
    known = np.isfinite(far) & (places[:, 2] >= surface.vertices[part, 2].min())
    values = cleared.clearance_mm[part][np.where(known, near, 0)]
    return {"clearance_mm": np.where(known, values, np.nan).astype(np.float32)}


CLEARANCE = Stage(
    name="clearance",
    title="measuring clearance",
    gives="cleared",
    needs=("posed", "placed", "blank", "formed", "body", "sheet.thickness_mm"),
    run=_measure,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    papers=(Papers(make=_pictures, picture=True),),
    arrays=_arrays,
    maps=(
        ColorMap(
            array="clearance_mm",
            label="Clearance",
            tip="Room between part and body, less the padding; nothing left is darkest",
            unit="mm",
            dark="low",
        ),
    ),
)
