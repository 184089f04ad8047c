"""The stages of the edge: holes and their pips before the buck is finished, the trim line when it is."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buckwright.stage import Papers, Stage, Told
from buckwright.workshop.edge import findings
from buckwright.workshop.edge.settings import EdgeSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.mesh.triangles import Mesh
    from buckwright.pose.posing import Posed
    from buckwright.shape.base.building import Blank
    from buckwright.workshop.edge.holes import PartHole
    from buckwright.workshop.edge.trim_curve import TrimCurve
    from buckwright.workshop.edge.unrolling import FlatBand
    from buckwright.workshop.rig.planning import RigPlan

__all__ = ["EDGE", "HOLES", "Edge"]

_OVERLAP_MM = 15.0
"""Ends of a strip lie over one another by this: makers' practice, no source."""
_ABOVE_LEDGE_MM = 0.02
_WALL_MM = 3.0  # over so much the slope of the wall at the edge is taken
_LEAST_SHARE = 0.5
"""A ring further up that is shorter than this share of the trim line is no wall: judgement."""


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """The edge of the part.

    Attributes
    ----------
    curve : the trim line
    band : the paper strip, rolled out; None without one
    strip_mm : height of the strip over the trim line; less than asked for where the wall is not as high
    height_mm : of the trim line over what the rim of the sheet lies on
    distances_mm : from each hole to the trim line, negative below it
    profile : the printed edge; None without one
    """

    curve: "TrimCurve"
    band: "FlatBand | None"
    strip_mm: float
    height_mm: float
    distances_mm: tuple[float, ...]
    profile: "Mesh | None"


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
    clock: "Clock",
) -> Edge | None:
    """None where nothing rises to the trim line, in a female mould, or without a plan of the base."""
    from buckwright.mesh.triangles import Mesh
    from buckwright.workshop.edge.holes import edge_distances
    from buckwright.workshop.edge.profile import edge_profile, wall_up
    from buckwright.workshop.edge.trim_curve import trim_curve

    if blank.plan is None or blank.plan.over:
        return None
    clock.ask()
    sheet = None if formed is None else Mesh(formed.forecast.points, formed.forecast.triangles)
    thick = None if formed is None else formed.forecast.thickness_mm

    def ring(rise: float) -> "TrimCurve | None":
        level = blank.plan.trim_z_mm + _ABOVE_LEDGE_MM + rise  # type: ignore[union-attr]
        return trim_curve(sheet, thick, blank.mesh, level, sheet_mm=thickness_mm)

    curve = ring(0.0)
    if curve is None:
        return None
    strip, rise = _strip(ring, curve, edge.strip_mm)
    profile = None
    if edge.profile != "off":
        profile = edge_profile(
            curve,
            wall_up(curve, ring(min(edge.profile_leg_mm, _WALL_MM))),
            kind=edge.profile,
            leg_mm=edge.profile_leg_mm,
            wall_mm=edge.profile_wall_mm,
            room_mm=edge.profile_room_mm,
        )
    dead = 0.0 if rigged is None else rigged.dead_mm
    return Edge(
        curve,
        strip,
        rise,
        blank.plan.trim_z_mm - dead,
        edge_distances(holed, curve.points),
        profile,
    )


def _strip(
    ring: "Callable[[float], TrimCurve | None]", curve: "TrimCurve", strip_mm: float
) -> "tuple[FlatBand | None, float]":
    """The strip on the outer side of the sheet; half or a quarter as high where the wall ends before."""
    from buckwright.workshop.edge.unrolling import unrolled

    for share in (1.0, 0.5, 0.25):
        upper = ring(share * strip_mm) if strip_mm > 0.0 else None
        if upper is not None and upper.length_mm > _LEAST_SHARE * curve.length_mm:
            return unrolled(curve.outside, upper.outside, overlap_mm=_OVERLAP_MM), share * strip_mm
    return None, 0.0


def _found_holes(holed: "tuple[PartHole, ...]", told: Told) -> "list[Finding]":
    edged = told.get("edged")
    return [] if edged is None else findings.about_holes(holed, edged.distances_mm)


def _hole_section(holed: "tuple[PartHole, ...]", told: Told) -> Mapping[str, Any]:
    if not holed:
        return {}
    edged = told.get("edged")
    away = (None,) * len(holed) if edged is None else edged.distances_mm
    return {"holes": [one.to_dict() | {"edge_mm": far} for one, far in zip(holed, away)]}


def _sections(edged: Edge, _told: Told) -> Mapping[str, Any]:
    curve, size = edged.curve, edged.profile
    return {
        "edge": {
            "trim_line_mm": curve.length_mm,
            "outside_mm": _round(curve.outside),
            "from": curve.source,
            "thickness_mm": [float(curve.thickness_mm.min()), float(curve.thickness_mm.max())],
            "strip_mm": edged.strip_mm,
            "gauge_mm": edged.height_mm,
            "profile_size_mm": None if size is None else [float(side) for side in size.size],
        }
    }


def _round(ring: Any) -> float:
    import numpy as np

    return float(np.linalg.norm(ring - np.roll(ring, -1, axis=0), axis=1).sum())


def _arrays(edged: Edge, _told: Told) -> Mapping[str, Any]:
    """The trim line, in the buck's frame."""
    return {"trim_0": edged.curve.points}


def _profile_files(edged: Edge, told: Told) -> dict[str, bytes]:
    from buckwright.output.stl import stl_bytes
    from buckwright.output.storable import storable
    from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes

    if edged.profile is None:
        return {}
    stored, title = storable(edged.profile), f"{told.title}: edge"
    files = {"edge.stl": stl_bytes(stored, title=title)}
    if threemf_available() is None:
        files["edge.3mf"] = threemf_bytes(stored, metadata=Metadata(title=title))
    return files


HOLES = Stage(
    name="holes",
    title="marking holes",
    gives="holed",
    needs=("posed", "blank", "edge"),
    run=_holes,
    tables={"edge": EdgeSettings},
    kinds=findings.KINDS,
    findings=_found_holes,
    sections=_hole_section,
)

EDGE = Stage(
    name="edge",
    title="drawing the trim line",
    gives="edged",
    needs=("blank", "formed", "holed", "edge", "sheet.thickness_mm", "rigged"),
    run=_edge,
    sections=_sections,
    papers=(Papers(make=_profile_files),),
    arrays=_arrays,
)
