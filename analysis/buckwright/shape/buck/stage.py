"""The stage that cuts vents, channels, fixings and lettering out of the blank."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.shape.buck import findings
from buckwright.stage import Papers, Stage, Told

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.mesh.triangles import Mesh
    from buckwright.shape.base.base_plan import BasePlan
    from buckwright.shape.base.building import Blank
    from buckwright.shape.buck.finishing import Buck
    from buckwright.shape.hollow.cavity import Cavity
    from buckwright.shape.underside.planning import Underside
    from buckwright.shape.vents.fitting import Vented
    from buckwright.workshop.edge.holes import PartHole

__all__ = ["BUCK"]

_CRUMB_MM3 = 5.0
"""What a cavity cuts loose between two bores, at most."""


def _finish(
    blank: "Blank",
    vented: "Vented",
    grooved: "Underside",
    hollowed: "Cavity | None",
    holed: "tuple[PartHole, ...]",
    pip_mm: float,
    register: bool,
    clock: "Clock",
) -> "Buck":
    from buckwright.output.storable import storable
    from buckwright.shape.buck.finishing import Buck, figures_of
    from buckwright.shape.solid import as_mesh, single_body
    from buckwright.shape.vents.drilling import drilled
    from buckwright.workshop.edge.pips import pips, pips_at

    assert blank.solid is not None
    with clock.step("drilling"):
        solid = drilled(blank.solid, vented.plan, extra=grooved.tools())
        if hollowed is not None:
            solid, _ = single_body(solid - hollowed.solid, sliver_mm3=_CRUMB_MM3)
        for bumps in (pips(holed, pip_mm), pips_at(_register(blank, register), pip_mm)):
            solid = solid if bumps is None else solid + bumps
    with clock.step("rounding to what files hold"):
        stored = storable(as_mesh(solid))
    with clock.step("checking the buck"):
        return Buck(solid, stored, figures_of(stored, solid) | {"dropped_slivers": blank.dropped})


def _register(blank: "Blank", wanted: bool) -> "NDArray[np.float64]":
    """Places of the pips that show whether a print came where it should, (N, 3)."""
    import numpy as np

    from buckwright.forming.artwork.registering import register_on

    if not wanted or blank.plan is None or blank.plan.over:
        return np.zeros((0, 3))
    return register_on(blank.plan)


def _findings(buck: "Buck", _told: Told) -> "list[Finding]":
    figures = buck.figures
    asked = ("watertight", "crossing_pairs", "crossing_at_mm")
    return findings.about_buck(**{name: figures[name] for name in asked})


def _sections(buck: "Buck", _told: Told) -> Mapping[str, Any]:
    return {"buck": buck.figures}


def _facts(buck: "Buck", told: Told) -> list[str]:
    volume = buck.figures["volume_mm3"] / 1000.0
    trim = told.results["blank"].plan.trim_z_mm
    return [f"Buck of {volume:.0f} cm3, {buck.figures['faces']:,} faces; trim line {trim:.1f} mm up"]


def _stl(buck: "Buck", told: Told) -> dict[str, bytes]:
    from buckwright.output.stl import stl_bytes

    return {"buck.stl": stl_bytes(buck.stored, title=told.title)}


def _threemf(buck: "Buck", told: Told) -> dict[str, bytes]:
    from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes

    if threemf_available() is not None:
        return {}
    words = " ".join(part for part in (told.job.job.number, told.job.job.story) if part)
    return {
        "buck.3mf": threemf_bytes(_bodies(buck, told), metadata=Metadata(title=told.title, description=words))
    }


def _bodies(buck: "Buck", told: Told) -> "Mesh | dict[str, Mesh]":
    """The buck as one body, or by name in two: closed, and porous at the top."""
    from buckwright.shape.solid import as_mesh

    parted = told.get("parted_top")
    if parted is None:
        return buck.stored
    return {told.title: as_mesh(parted.closed), f"{told.title}, porous": as_mesh(parted.porous)}


def _pictures(buck: "Buck", told: Told) -> dict[str, bytes]:
    import numpy as np

    from buckwright.shape.buck.pictures import BASE_PART, FILL_PART, SCULPT_PART, BuckScene, draw_buck
    from buckwright.shape.solid import as_mesh, faces_of

    plan, filled = told.results["blank"].plan, told.results["filled"]
    mesh = as_mesh(buck.solid)
    part = np.full(mesh.face_count, BASE_PART, np.uint8)
    part[_of_sculpt(mesh, plan)] = SCULPT_PART
    if filled.mark >= 0:
        part[faces_of(buck.solid, filled.mark)] = FILL_PART
    facts = (
        f"Filled: {filled.figures.added_volume_mm3 / 1000.0:.1f} cm\u00b3",
        f"Buck: {buck.solid.volume() / 1000.0:.0f} cm\u00b3",
    )
    return draw_buck(
        BuckScene(
            title=told.title,
            mesh=mesh,
            part=part,
            vents=told.results["vented"].marks(),
            trim_z_mm=plan.trim_z_mm,
            trim=tuple(np.asarray(ring) for ring in plan.part.to_polygons()) if plan.over else None,
            facts=facts,
            faces=buck.stored.face_count,
        )
    )


def _of_sculpt(mesh: "Mesh", plan: "BasePlan") -> "NDArray[np.bool_]":
    """Faces that are the sculpt's: above its foot, or in a female mould those of the cavity."""
    import numpy as np

    from buckwright.relief.within import within

    places = mesh.centroids()
    if not plan.over:
        return np.asarray(places[:, 2] > plan.foot_z_mm)
    upward = mesh.area_vectors()[:, 2] > 0.0  # not the bores and channels under it
    rings = [np.asarray(ring, np.float64) for ring in plan.part.to_polygons()]
    return within(places, rings) & upward & (places[:, 2] < plan.foot_z_mm)


def _arrays(buck: "Buck", _told: Told) -> Mapping[str, Any]:
    import numpy as np

    return {
        "buck_vertices": np.asarray(buck.stored.vertices, np.float64),
        "buck_faces": np.asarray(buck.stored.faces, np.int32),
    }


BUCK = Stage(
    name="buck",
    title="drilling",
    gives="buck",
    needs=("blank", "vented", "grooved", "hollowed", "holed", "edge.pip_mm", "artwork.register"),
    run=_finish,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    papers=(
        Papers(make=_threemf, after=("parted_top",), loads=("lib3mf",)),
        Papers(make=_pictures, picture=True),
        Papers(make=_stl),
    ),
    arrays=_arrays,
)
