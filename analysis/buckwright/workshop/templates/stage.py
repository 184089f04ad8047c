"""The stage that draws the templates."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buckwright.stage import Papers, Stage, Told
from buckwright.workshop.rig.settings import RigSettings
from buckwright.workshop.templates.settings import TemplateSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.output.flat.drawing import FlatDrawing
    from buckwright.shape.base.building import Blank
    from buckwright.shape.underside.planning import Underside
    from buckwright.workshop.edge.holes import PartHole
    from buckwright.workshop.edge.stage import Edge
    from buckwright.workshop.group.neighbours.neighbour import Neighbour
    from buckwright.workshop.group.planning import GroupPlan
    from buckwright.workshop.machine.planning import MachinePlan
    from buckwright.workshop.rig.planning import RigPlan

__all__ = ["TEMPLATES", "Templates"]


@dataclass(frozen=True, slots=True)
class Templates:
    """Drawings at 1:1.

    Attributes
    ----------
    drawings : in the order in which they are needed
    trim_line_mm : length of the trim line
    """

    drawings: "tuple[FlatDrawing, ...]"
    trim_line_mm: float


def _draw(
    blank: "Blank",
    rigged: "RigPlan | None",
    grooved: "Underside",
    rig: RigSettings,
    templates: TemplateSettings,
    channel_depth_mm: float,
    machined: "MachinePlan | None",
    grouped: "GroupPlan | None",
    neighbours: "tuple[Neighbour, ...] | None",
    edged: "Edge | None",
    holed: "tuple[PartHole, ...]",
    gauge: bool,
    clock: "Clock",
) -> Templates | None:
    """None for a buck that came without a plan of its base."""
    import numpy as np

    from buckwright.output.flat.drawing import Line
    from buckwright.workshop.group.planning import beside_outlines, outlines_of, placed, places_of
    from buckwright.workshop.templates import drawings

    if rigged is None or blank.plan is None:
        return None
    clock.ask()
    plan = blank.plan
    x0, y0, x1, y1 = plan.underside.bounds()
    middle = np.array([x0 + x1, y0 + y1]) / 2.0
    places = places_of(grouped)
    base = outlines_of([np.asarray(ring) - middle for ring in plan.underside.to_polygons()], places)
    others = neighbours or ()
    base += beside_outlines(grouped, [one.outlines for one in others])
    trim = sum(Line("reference", np.asarray(ring)).length_mm for ring in plan.part.to_polygons())
    trim = trim if edged is None else edged.outer.curve.length_mm
    made = [drawings.blank_drawing(rigged, base, corner_mm=rig.corner_mm)]
    if rigged.reduction is not None:
        corner, width = rig.corner_mm, rig.gasket_width_mm
        round_one = machined is not None and machined.fit.round_platen
        made.append(
            drawings.mask_plate(rigged, base, corner_mm=corner, gasket_width_mm=width, round_plate=round_one)
        )
        made.append(drawings.clamp_frame(rigged, corner_mm=corner))
    if machined is not None and machined.holes is not None and machined.fit.platen_mm is not None:
        made.append(drawings.platen_holes(machined.holes, machined.fit, base, rigged.opening_mm))
    screws = [np.zeros((0, 2))]
    if grooved.fixings.kind == "screw" and len(grooved.fixings.holes):
        holes = grooved.fixings.circles[:, :2] - middle
        screws += [placed(holes, place) for place in places]
    beside = () if grouped is None else zip(others, grouped.beside)
    screws += [placed(one.screws_mm, place) for one, kind in beside for place in kind.places]
    drilled, many = np.concatenate(screws), len(base) > len(plan.underside.to_polygons())
    if len(drilled) or many:
        made.append(drawings.base_board(base, drilled, channel_depth_mm, dowels=many))
    made.append(drawings.edge_strip(trim, width_mm=templates.edge_strip_mm))
    made += _of_edge(edged, holed, gauge=gauge, strip_mm=templates.edge_strip_mm)
    return Templates(tuple(made), trim)


def _of_edge(
    edged: "Edge | None", holed: "tuple[PartHole, ...]", *, gauge: bool, strip_mm: float
) -> "list[FlatDrawing]":
    import numpy as np

    from buckwright.workshop.edge.drawings import drilling_template, height_gauge, opening_gauge, paper_strip
    from buckwright.workshop.templates.drawings import edge_strip

    if edged is None:
        return []
    made = []
    for ending, rim in edged.rims:
        if ending:
            made.append(edge_strip(rim.curve.length_mm, width_mm=strip_mm, ending=ending))
        if rim.band is not None:
            made.append(paper_strip(rim.band, ending=ending, rising=rim.curve.rises_mm > 0.0))
        if gauge and ending:
            wide, deep = (float(side) for side in np.ptp(rim.curve.points[:, :2], axis=0))
            made.append(opening_gauge(rim.height_mm, min(wide, deep), ending=ending))
        elif gauge and rim.curve.rises_mm == 0.0:
            made.append(height_gauge(rim.height_mm))
    if holed:
        lines = [rim.curve.points for _, rim in edged.rims]
        made.append(drilling_template(lines[0], holed, edged.distances_mm, openings=lines[1:]))
    return made


def _sections(drawn: Templates, _told: Told) -> Mapping[str, Any]:
    return {
        "templates": {
            "trim_line_mm": drawn.trim_line_mm,
            "drawings": [{"name": one.name, "title": one.title} for one in drawn.drawings],
        }
    }


def _files(drawn: Templates, told: Told) -> dict[str, bytes]:
    from buckwright.output.flat.dxf import dxf_bytes
    from buckwright.output.flat.pdf import pdf_bytes
    from buckwright.output.flat.svg import svg_bytes

    settings = told.job.templates
    if not settings.enabled:
        return {}
    files = {"templates.pdf": pdf_bytes(drawn.drawings, page=settings.page, title=f"{told.title}: templates")}
    for one in drawn.drawings:
        files[f"{one.name}.dxf"] = dxf_bytes(one)
        files[f"{one.name}.svg"] = svg_bytes(one)
    return files


TEMPLATES = Stage(
    name="templates",
    title="drawing templates",
    gives="drawn",
    needs=(
        "blank",
        "rigged",
        "grooved",
        "rig",
        "templates",
        "vents.channel_depth_mm",
        "machined",
        "grouped",
        "neighbours",
        "edged",
        "holed",
        "edge.gauge",
    ),
    run=_draw,
    tables={"templates": TemplateSettings},
    sections=_sections,
    papers=(Papers(make=_files, loads=("ezdxf.document", "reportlab.pdfgen.canvas")),),
)
