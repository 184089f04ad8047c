"""The stage that places the vents."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.forming.sheets.settings import SheetSettings
from buckwright.shape.vents import findings
from buckwright.shape.vents.settings import VentSettings
from buckwright.stage import Answer, ColorMap, Figure, Stage, Told, entry_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.pose.posing import Posed
    from buckwright.shape.base.building import Blank
    from buckwright.shape.vents.fitting import Pocketed, Vented
    from buckwright.shape.vents.vent import VentPlan
    from buckwright.survey.pockets.find_pockets import Pockets

__all__ = ["VENTS"]

# Vents round the foot stand so many spacings apart, so that no place of it is farther from one than 0.6 of
# the spacing: 30 mm with the usual setting; 20 to 40 mm along corners and foot: common practice, no source.
_FOOT_STEP = 1.2


def _fit(
    posed: "Posed",
    blank: "Blank",
    pockets: "Pockets | None",
    formed: "BuckForecast | None",
    sheet: SheetSettings,
    vents: VentSettings,
    place_vents: bool,
    clock: "Clock",
) -> "Vented":
    import numpy as np

    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.relief.columns import Columns
    from buckwright.shape.vents import fitting
    from buckwright.shape.vents.foot_ring import ring_points

    assert blank.plan is not None
    marks = material_of(sheet.material).vent_diameter_mm
    face = fitting.face_of(vents, sheet_mm=sheet.thickness_mm, low_mm=marks.low, high_mm=marks.high)
    with clock.step("placing vents"):
        columns = Columns(blank.mesh)
        ring = np.zeros((0, 2))
        if vents.enabled and vents.foot_ring and blank.plan.foot_ring is not None:
            ring = ring_points(blank.plan.foot_ring, spacing_mm=_FOOT_STEP * vents.spacing_mm)
        pocketed = None if pockets is None else _pocketed(pockets, vents)
        if vents.at_mm is not None and pocketed is not None:
            spots = blank.plan.stand.places(posed.placed(np.array(vents.at_mm, np.float64).reshape(-1, 3)))
            return fitting.place_vents(spots, ring, columns, face, vents, pocketed, blank.solid)
        last = formed.touched_last if formed is not None and place_vents else None
        return fitting.fit_vents(ring, columns, face, vents, pocketed, last, blank.solid)


def _pocketed(pockets: "Pockets", vents: VentSettings) -> "Pocketed":
    from buckwright.forming.air.evacuation import through_vents_s
    from buckwright.shape.vents.fitting import Pocketed
    from buckwright.survey.pockets.find_pockets import vent_points

    def times(volumes: "NDArray[np.float64]", count: "NDArray[np.float64]", plan: "VentPlan") -> list[float]:
        return through_vents_s(
            volumes,
            count,
            hole_mm2=plan.face.area_mm2,
            skin_mm=vents.skin_mm,
            target_share=vents.left_share,
            plenum_kpa=vents.under_platen_kpa,
        )

    def points(spacing: float, ring: "NDArray[np.float64]") -> "list[tuple[int, tuple[float, float, float]]]":
        return vent_points(pockets, spacing_mm=spacing, given=ring)

    return Pocketed(pockets, points, times)


def _findings(vented: "Vented", told: Told) -> "list[Finding]":
    return findings.about_vents(vented, told.get("pockets"), told.job.vents)


def _answers(vented: "Vented", told: Told) -> list[Answer]:
    if told.get("pockets") is None:
        return [Answer("Fills", "not known: vents are switched off.")]
    states = vented.states
    vents, pockets = counted(len(vented.plan.vents), "vent"), counted(len(states), "air pocket")
    seen, stays = _stays(told)
    tail = f"; {stays}." if stays else "."
    bare, to_drill = states.count("bare"), states.count("to drill")
    if not bare + to_drill:
        how = "mostly" if seen else "yes"
        words = f"{vents} for {pockets} and the foot"
        if not states:
            words = f"{'' if stays else 'nothing traps air; '}{vents} along the foot"
        return [Answer("Fills", f"{how}: {words}{tail}")]
    lacks = [f"{bare} bare"] if bare else []
    lacks += [f"{to_drill} to drill"] if to_drill else []
    how = "no" if bare == len(states) else "mostly" if bare or seen else "once drilled"
    return [Answer("Fills", f"{how}: {vents}; of {pockets} {' and '.join(lacks)}{tail}")]


def _stays(told: Told) -> tuple[bool, str]:
    """What the check against the forecast has to add, if it was made."""
    from buckwright.forming.drainage.findings import what_stays

    drained = told.get("drained")
    return (False, "") if drained is None else what_stays(drained)


def _sections(vented: "Vented", told: Told) -> Mapping[str, Any]:
    pockets, blank = told.get("pockets"), told.get("blank")
    trim = None if blank is None or blank.plan is None or told.stand.over else blank.plan.trim_z_mm
    return {
        "venting": vented.figures(() if pockets is None else pockets.pockets, trim_z_mm=trim),
        "vents": [vent.to_dict() for vent in vented.plan.vents],
        "evacuation_s": list(vented.evacuation_s),
    }


def _arrays(vented: "Vented", told: Told) -> Mapping[str, Any]:
    """The vents, and how far the nearest one is from each face, seen down the pull (nan without vents)."""
    import numpy as np
    from scipy.spatial import cKDTree

    sources, plan = told.sources(), vented.plan
    reach = np.full(len(sources.source), np.nan, np.float32)
    there = sources.source >= 0
    if len(plan.axes):
        middles = told.stand.places(sources.middles[there])[:, :2]
        reach[there] = cKDTree(plan.axes).query(middles, workers=-1)[0]
    rows = [(*v.top_mm, v.face.width_mm, v.back_bore_mm, float(v.pocket)) for v in plan.vents]
    return {
        "vent_reach_mm": reach,
        "vents": np.array(rows, np.float64).reshape(-1, 6),
        "vent_kind": np.array([vent.face.opening for vent in plan.vents], np.str_),
    }


def _automatic(vented: "Vented") -> Mapping[str, Any]:
    plan = vented.plan
    return {
        "vents.hole_mm": plan.face.hole_mm,
        "vents.narrow_most_mm": plan.bores.deepest_narrow_mm(plan.face),
    }


VENTS = Stage(
    name="vents",
    title="placing vents",
    gives="vented",
    needs=("posed", "blank", "pockets", "formed", "sheet", "vents", "forecast.place_vents"),
    run=_fit,
    tables={"vents": VentSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    arrays=_arrays,
    automatic=_automatic,
    maps=(
        ColorMap(
            array="vent_reach_mm", label="Distance to Vent", tip="Distance to the nearest vent", unit="mm"
        ),
    ),
    figures=(
        Figure(name="bare", label="Unvented Pockets", of=entry_of("venting.bare"), better="less"),
        Figure(name="vents", label="Vents", of=entry_of("venting.vents"), better="less"),
    ),
)
