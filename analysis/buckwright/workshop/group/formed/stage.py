"""The stage that forecasts the sheet over all bucks of a group."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buckwright.stage import Papers, Stage, Told
from buckwright.workshop.group.formed import findings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.result import Forecast
    from buckwright.forming.forecast.settings import ForecastSettings
    from buckwright.forming.forecast.webs import Web
    from buckwright.forming.zones.zoned import Zoned
    from buckwright.mesh.triangles import Mesh
    from buckwright.shape.base.building import Blank
    from buckwright.workshop.group.formed.between import Bridge
    from buckwright.workshop.group.neighbours.neighbour import Neighbour
    from buckwright.workshop.group.planning import GroupPlan

__all__ = ["GROUP_FORECAST", "GroupFormed"]

_MOST_NODES = 8.0
"""So many times the nodes of one buck at most, on a net with cells twice as long: judgement, for the time."""
_NEAR = 1.3  # of the spacing: bases farther apart do not stand side by side


@dataclass(frozen=True, slots=True, eq=False)
class GroupFormed:
    """The sheet over a group, around the middle of the opening.

    Attributes
    ----------
    forecast : over all bucks
    mesh : of all bucks
    trim_mm : the lowest trim line among them; None where none is known
    between : webs between two bucks, the longest first
    bridges : how far down the sheet comes between each two neighbours
    """

    forecast: "Forecast"
    mesh: "Mesh"
    trim_mm: float | None
    between: "tuple[Web, ...]"
    bridges: "tuple[Bridge, ...]"

    def to_dict(self) -> dict[str, Any]:
        """The entry of the report."""
        run = self.forecast
        return {
            "weakest_mm": run.figures.weakest_mm,
            "mean_mm": run.figures.mean_mm,
            "nodes": run.settings.nodes,
            "heat_map": run.settings.heat_map,
            "webs": len(run.webs),
            "webs_between": [web.to_dict() for web in self.between],
            "between": [bridge.to_dict() for bridge in self.bridges],
        }


def _forecast(
    blank: "Blank",
    grouped: "GroupPlan | None",
    neighbours: "tuple[Neighbour, ...] | None",
    forecast: "ForecastSettings",
    zoned: "Zoned | None",
    thickness_mm: float,
    plenum_kpa: float | None,
    clock: "Clock",
) -> GroupFormed | None:
    """None for one buck, for one that does not fit, and where no forecast is wanted."""
    if grouped is None or not grouped.fits or blank.plan is None or forecast.quality == "off":
        return None
    import attrs
    import numpy as np

    from buckwright.forming.forecast.buck_forecast import Levels, run_forecast
    from buckwright.forming.forecast.stage import levels_of, under_zones
    from buckwright.relief.raster import relief_of
    from buckwright.shape.vents.settings import PLENUM_KPA
    from buckwright.workshop.group.formed.between import bridges, lie_between

    levels = [levels_of(blank)]
    levels += [Levels(foot_mm=one.foot_mm, trim_mm=one.trim_mm) for one in neighbours or ()]
    trims = [one.trim_mm for one in levels if one.trim_mm is not None]
    mesh, bases = _stood(blank, grouped, neighbours or ())
    share = min(max(np.prod(grouped.opening_mm) / _alone_mm2(blank, forecast), 1.0), _MOST_NODES)
    asked = attrs.evolve(forecast, nodes=_whole_nodes(forecast.nodes * float(share)))
    with clock.step("forecasting the group"):
        run = run_forecast(
            relief_of(mesh, pixel_mm=float(mesh.size[:2].max()) / _PIXELS),
            Levels(
                foot_mm=max(one.foot_mm for one in levels),
                trim_mm=max(trims, default=None),
                step_mm=levels[0].step_mm,
                clamp_mm=levels[0].clamp_mm,
            ),
            under_zones(asked, zoned),
            clock.tick,
            sheet_mm=thickness_mm,
            plenum_kpa=PLENUM_KPA if plenum_kpa is None else plenum_kpa,
            quality="preview",
            frame_mm=_frame(grouped),
            coarser=True,
        )
    near = _NEAR * grouped.spacing_mm
    middles = np.array([web.where_mm[:2] for web in run.webs], np.float64).reshape(-1, 2)
    held = lie_between(middles, bases, near)
    between = sorted((web for web, is_held in zip(run.webs, held) if is_held), key=lambda web: -web.length_mm)
    return GroupFormed(run, mesh, min(trims, default=None), tuple(between), bridges(run.points, bases, near))


_PIXELS = 1024
_FEWEST_NODES, _GREATEST_NODES = 400, 200_000


def _whole_nodes(count: float) -> int:
    return round(min(max(count, _FEWEST_NODES), _GREATEST_NODES))


def _alone_mm2(blank: "Blank", forecast: "ForecastSettings") -> float:
    """Frame of one buck alone."""
    from buckwright.forming.forecast.buck_forecast import frame_round

    width, depth, height = (float(side) for side in blank.mesh.size)
    wide, deep = frame_round((width, depth), height, forecast.gap_mm)
    return wide * deep


def _frame(grouped: "GroupPlan") -> tuple[float, float]:
    """Of a round opening the square of the same area: the forecast knows rectangles only."""
    from buckwright.workshop.machine.opening import Opening

    return Opening(grouped.opening_mm, grouped.round_opening).forecast_mm


def _stood(
    blank: "Blank", grouped: "GroupPlan", neighbours: "Sequence[Neighbour]"
) -> "tuple[Mesh, list[NDArray[np.float64]]]":
    """All bucks around the middle of the opening, and the outlines of their bases."""
    import numpy as np

    from buckwright.mesh.triangles import Mesh
    from buckwright.workshop.group.planning import placed

    x0, y0, x1, y1 = blank.plan.underside.bounds()  # type: ignore[union-attr]
    middle = np.array([x0 + x1, y0 + y1]) / 2.0
    outline = max((np.asarray(ring) for ring in blank.plan.underside.to_polygons()), key=len)  # type: ignore[union-attr]
    kinds = [(Mesh(blank.mesh.vertices - [*middle, 0.0], blank.mesh.faces), outline - middle, grouped.places)]
    kinds += [
        (one.mesh, max(one.outlines, key=len), kind.places) for one, kind in zip(neighbours, grouped.beside)
    ]
    vertices, faces, bases, count = [], [], [], 0
    for mesh, ring, places in kinds:
        for place in places:
            flat = placed(mesh.vertices[:, :2], place)
            vertices.append(np.column_stack([flat, mesh.vertices[:, 2]]))
            faces.append(mesh.faces + count)
            bases.append(placed(ring, place))
            count += mesh.vertex_count
    return Mesh(np.concatenate(vertices), np.concatenate(faces).astype(np.int32)), bases


def _findings(group_formed: GroupFormed, told: Told) -> "list[Finding]":
    formed = told.get("formed")
    alone = None if formed is None else formed.forecast.figures.weakest_mm
    return findings.about_formed(group_formed, alone)


def _sections(group_formed: GroupFormed, _told: Told) -> Mapping[str, Any]:
    return {"group_forecast": group_formed.to_dict()}


def _facts(group_formed: GroupFormed, _told: Told) -> list[str]:
    from buckwright.findings import counted

    between = counted(len(group_formed.between), "web") if group_formed.between else "no web"
    weakest = group_formed.forecast.figures.weakest_mm
    return [f"Forecast over the group: {between} between the bucks, weakest spot {weakest:.2f} mm"]


def _pictures(group_formed: GroupFormed, told: Told) -> dict[str, bytes]:
    import numpy as np

    from buckwright.forming.forecast.pictures import ForecastScene, draw_from_above
    from buckwright.mesh.triangles import Mesh
    from buckwright.output.canvas.marks import RegionMark

    run = group_formed.forecast
    marks = tuple(
        RegionMark(n, np.array(web.where_mm), f"web {web.length_mm:.0f} mm long, between bucks")
        for n, web in enumerate(group_formed.between[:_MOST_MARKS], 1)
    )
    scene = ForecastScene(
        title=told.title,
        sheet=Mesh(run.points, run.triangles),
        thickness_mm=run.thickness_mm,
        blank_mm=run.settings.sheet_mm,
        order=np.where(run.contact < 0.0, np.nan, run.contact),
        buck=group_formed.mesh,
        weakest_at_mm=np.array(run.figures.weakest_at_mm),
        weakest_mm=run.figures.weakest_mm,
        webs=tuple(np.array(web.ends_mm) for web in run.webs),
        marks=marks,
        facts=("All bucks of the pull, in preview.", *_facts(group_formed, told)),
    )
    return {"group_forecast.png": draw_from_above(scene)}


_MOST_MARKS = 8

GROUP_FORECAST = Stage(
    name="group_forecast",
    title="forecasting the group",
    gives="group_formed",
    needs=(
        "blank",
        "grouped",
        "neighbours",
        "forecast",
        "zoned",
        "sheet.thickness_mm",
        "vents.plenum_kpa",
    ),
    run=_forecast,
    wanted=lambda tables: tables["group"].copies > 1 or bool(tables["group"].others.strip()),
    beside=True,
    keep=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    papers=(Papers(make=_pictures, picture=True),),
)
