"""The stages of the edge: holes and their pips before the buck is finished, the trim line when it is."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from buckwright.stage import Papers, Stage, Told
from buckwright.workshop.edge import findings
from buckwright.workshop.edge.settings import EdgeSettings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.mesh.triangles import Mesh
    from buckwright.pose.posing import Posed
    from buckwright.shape.base.building import Blank
    from buckwright.workshop.clearance.measuring import Clearance
    from buckwright.workshop.edge.holes import PartHole
    from buckwright.workshop.edge.rim import Rim
    from buckwright.workshop.edge.trim_curve import TrimCurve
    from buckwright.workshop.rig.planning import RigPlan

__all__ = ["EDGE", "HOLES", "Edge"]

_ABOVE_LEDGE_MM = 0.02
_FLARE_SHEETS, _LEAST_RISE_MM = 4.0, 1.0
"""How far a sheet flares out of an inner corner, as the riser's rule has it: common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """The edges of the part.

    Attributes
    ----------
    outer : the edge all round the part
    openings : edges round what is open within it, the longest first
    islands : edges round bodies that stand apart on the base, for parts that are cut out one by one; none
        where there is one body
    distances_mm : from each hole to the nearest trim line, negative below the outer one
    """

    outer: "Rim"
    openings: "tuple[Rim, ...]"
    islands: "tuple[Rim, ...]"
    distances_mm: tuple[float, ...]

    @property
    def rims(self) -> "tuple[tuple[str, Rim], ...]":
        """All edges, each with what the names of its files end in."""
        within = ((f"_opening_{n}", rim) for n, rim in enumerate(self.openings, 1))
        apart = ((f"_island_{n}", rim) for n, rim in enumerate(self.islands, 1))
        return (("", self.outer), *within, *apart)

    def keeps(self, points: "NDArray[np.float64]") -> "NDArray[np.bool_]":
        """Which points of the sheet are not trimmed off.

        Parameters
        ----------
        points : (N, 3) mm

        Returns
        -------
        (N,) bool
        """
        from buckwright.workshop.machine.platen import in_outlines

        kept = points[:, 2] >= self.outer.curve.height_at(points[:, :2])
        for rim in self.openings:
            ring = rim.curve.points
            low, high = ring[:, :2].min(axis=0), ring[:, :2].max(axis=0)
            near = (points[:, 2] < ring[0, 2]) & ((points[:, :2] >= low) & (points[:, :2] <= high)).all(
                axis=1
            )
            kept[near] &= ~in_outlines(points[near, :2], [ring[:, :2]])
        found: NDArray[np.bool_] = kept
        return found


def _holes(posed: "Posed", blank: "Blank", edge: EdgeSettings, clock: "Clock") -> "tuple[PartHole, ...]":
    import numpy as np

    from buckwright.errors import InputError
    from buckwright.workshop.edge.holes import placed_holes

    if blank.plan is None:
        return ()
    clock.ask()
    if blank.plan.over and (edge.rivets_mm or edge.slots_mm or edge.fans_mm):
        raise InputError(
            "holes cannot be marked in a female mould: leave out edge.rivets_mm, edge.slots_mm and "
            "edge.fans_mm, or make a male one"
        )
    stand = blank.plan.stand
    wanted = {
        kind: stand.places(posed.placed(np.array(places or (), np.float64).reshape(-1, 3)))
        for kind, places in (("rivet", edge.rivets_mm), ("slot", edge.slots_mm), ("fan", edge.fans_mm))
    }
    long, wide = max(edge.slot_mm), min(edge.slot_mm)
    sizes = {"rivet": (edge.rivet_mm,) * 2, "slot": (long, wide), "fan": (edge.fan_mm,) * 2}
    outline = max((np.asarray(one) for one in blank.plan.part.to_polygons()), key=len)
    return placed_holes(blank.mesh, wanted, sizes, outline)  # type: ignore[arg-type]


def _edge(
    blank: "Blank",
    formed: "BuckForecast | None",
    holed: "tuple[PartHole, ...]",
    edge: EdgeSettings,
    thickness_mm: float,
    rigged: "RigPlan | None",
    cleared: "Clearance | None",
    trim: str,
    edge_mm: float,
    clock: "Clock",
) -> Edge | None:
    """None where nothing rises to the trim line, in a female mould, or without a plan of the base."""
    from buckwright.mesh.triangles import Mesh
    from buckwright.workshop.edge.holes import edge_distances
    from buckwright.workshop.edge.openings import island_rings, opening_rings
    from buckwright.workshop.edge.rim import rim_of
    from buckwright.workshop.edge.trim_curve import island_curve, opening_curve, rising_curve, trim_curve

    if blank.plan is None or blank.plan.over:
        return None
    clock.ask()
    plan = blank.plan
    sheet = None if formed is None else Mesh(formed.forecast.points, formed.forecast.triangles)
    thick = None if formed is None else formed.forecast.thickness_mm

    def ring(rise: float) -> "TrimCurve | None":
        level = plan.trim_z_mm + _ABOVE_LEDGE_MM + rise
        return trim_curve(sheet, thick, blank.mesh, level, sheet_mm=thickness_mm)

    def follow(level: "TrimCurve") -> "TrimCurve":
        if trim != "body" or cleared is None:
            return level
        return rising_curve(level, cleared.surface, cleared.clearance_mm, edge_mm)

    dead = 0.0 if rigged is None else rigged.dead_mm
    outer = rim_of(ring, plan.trim_z_mm - dead, edge, follow=follow)
    if outer is None:
        return None
    within = partial(_on_floor, blank, sheet, thick, edge, thickness_mm)
    openings = within(opening_rings, opening_curve) if edge.openings else ()
    islands = within(island_rings, island_curve)
    lines = [rim.curve.points for rim in (outer, *openings, *islands)]
    return Edge(outer, openings, islands, edge_distances(holed, lines[0], lines[1:]))


def _on_floor(
    blank: "Blank",
    sheet: "Mesh | None",
    thick: Any,
    edge: EdgeSettings,
    thickness_mm: float,
    rings: "Callable[[Mesh, float, float], tuple[NDArray[np.float64], ...]]",
    curve_of: "Callable[..., TrimCurve]",
) -> "tuple[Rim, ...]":
    """Edges that lie over the top of the base: round openings, or round islands."""
    import numpy as np

    from buckwright.workshop.edge.rim import rim_of

    floor = blank.plan.top_z_mm  # type: ignore[union-attr]
    rise = edge.opening_rise_mm
    rise = max(_FLARE_SHEETS * thickness_mm, _LEAST_RISE_MM) if rise is None else rise

    def ring_at(middle: Any, higher: float) -> "TrimCurve | None":
        """The one that holds a place, or is nearest to it."""
        walls = rings(blank.mesh, floor, floor + rise + higher)
        if not walls:
            return None
        away = [float(np.linalg.norm(wall[:, :2].mean(axis=0) - middle)) for wall in walls]
        return curve_of(sheet, thick, walls[int(np.argmin(away))], sheet_mm=thickness_mm)

    middles = [wall[:, :2].mean(axis=0) for wall in rings(blank.mesh, floor, floor + rise)]
    rims = (rim_of(partial(ring_at, middle), rise, edge) for middle in middles)
    return tuple(rim for rim in rims if rim is not None)


def _found_holes(holed: "tuple[PartHole, ...]", told: Told) -> "list[Finding]":
    edged = told.get("edged")
    return [] if edged is None else findings.about_holes(holed, edged.distances_mm)


def _hole_section(holed: "tuple[PartHole, ...]", told: Told) -> Mapping[str, Any]:
    if not holed:
        return {}
    edged = told.get("edged")
    away = (None,) * len(holed) if edged is None else edged.distances_mm
    return {"holes": [one.to_dict() | {"edge_mm": far} for one, far in zip(holed, away)]}


def _found_edges(edged: Edge, told: Told) -> "list[Finding]":
    return [
        *findings.about_printed([rim.printed for _, rim in edged.rims if rim.printed is not None]),
        *findings.about_line(edged.outer.curve.rises_mm, profile=told.job.edge.profile),
    ]


def _sections(edged: Edge, _told: Told) -> Mapping[str, Any]:
    within = {"openings": edged.openings, "islands": edged.islands}
    listed = {name: [rim.to_dict() for rim in rims] for name, rims in within.items()}
    return {"edge": edged.outer.to_dict() | listed}


def _arrays(edged: Edge, _told: Told) -> Mapping[str, Any]:
    """The trim lines, in the buck's frame."""
    return {f"trim_{n}": rim.curve.points for n, (_, rim) in enumerate(edged.rims)}


def _profile_files(edged: Edge, told: Told) -> dict[str, bytes]:
    from buckwright.output.stl import stl_bytes
    from buckwright.output.storable import storable
    from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes

    files: dict[str, bytes] = {}
    for ending, rim in edged.rims:
        if rim.printed is None:
            continue
        stored, title = storable(rim.printed.mesh), f"{told.title}: edge{ending.replace('_', ' ')}"
        files[f"edge{ending}.stl"] = stl_bytes(stored, title=title)
        if threemf_available() is None:
            files[f"edge{ending}.3mf"] = threemf_bytes(stored, metadata=Metadata(title=title))
    return files


HOLES = Stage(
    name="holes",
    title="marking holes",
    gives="holed",
    needs=("posed", "blank", "edge"),
    run=_holes,
    tables={"edge": EdgeSettings},
    kinds=findings.HOLE_KINDS,
    findings=_found_holes,
    sections=_hole_section,
)

EDGE = Stage(
    name="edge",
    title="drawing the trim line",
    gives="edged",
    needs=(
        "blank",
        "formed",
        "holed",
        "edge",
        "sheet.thickness_mm",
        "rigged",
        "cleared",
        "body.trim",
        "body.edge_mm",
    ),
    run=_edge,
    kinds=findings.EDGE_KINDS,
    findings=_found_edges,
    sections=_sections,
    papers=(Papers(make=_profile_files),),
    arrays=_arrays,
)
