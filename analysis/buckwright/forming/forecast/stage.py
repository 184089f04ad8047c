"""The stage that forecasts the sheet on the blank."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.forming.forecast import findings
from buckwright.forming.forecast.compared import FIGURES
from buckwright.forming.forecast.measured import against, points_of
from buckwright.forming.forecast.measured_findings import MEASURED, about_measured
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.forming.forecast.thresholds import DISC_MM, HANDY_MM, THIN_SHARE
from buckwright.stage import Answer, ColorMap, Papers, Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast, Levels
    from buckwright.forming.forecast.measured import Against
    from buckwright.forming.forecast.result import Forecast
    from buckwright.forming.zones.zoned import Zoned
    from buckwright.shape.base.building import Blank

__all__ = ["FORECAST", "in_its_frame", "levels_of", "under_zones"]

_MOST_WEBS, _MOST_AIR = 6, 8


def levels_of(blank: "Blank") -> "Levels":
    """Heights of the blank's base.

    Parameters
    ----------
    blank : a buck without vents, or one that was read from a file and has no known base

    Returns
    -------
    Levels : mm over the platen
    """
    import numpy as np

    from buckwright.forming.forecast.buck_forecast import Levels

    plan = blank.plan
    if plan is None:
        return Levels()
    if plan.over:
        rim = tuple(np.asarray(ring, np.float64) for ring in plan.part.to_polygons())
        return Levels(trim_mm=plan.trim_z_mm, step_mm=plan.trim_step_mm, clamp_mm=plan.dead_mm, rim=rim)
    return Levels(
        foot_mm=max(plan.flange_z_mm, plan.trim_z_mm),
        trim_mm=plan.trim_z_mm,
        flange_mm=plan.flange_z_mm,
        step_mm=plan.trim_step_mm,
        clamp_mm=plan.dead_mm,
    )


def in_its_frame(
    blank: "Blank", forecast: ForecastSettings, *, profile: str | None, shape: str | None, reducing: bool
) -> ForecastSettings:
    """The settings with the machine's own opening as frame, where that is what the sheet is formed in.

    Parameters
    ----------
    blank : a buck without vents
    forecast : as asked
    profile, shape : name of the machine, 'round' or else a rectangle
    reducing : whether a reducing set is used

    Returns
    -------
    ForecastSettings
    """
    import attrs

    from buckwright.workshop.machine.opening import opening_of

    width, depth = (float(side) for side in blank.mesh.size[:2])
    asked = forecast.frame_mm is not None or forecast.gap_mm is not None or reducing
    own = opening_of(profile, (width, depth), shape=shape, asked=asked)
    return forecast if own is None else attrs.evolve(forecast, frame_mm=own.forecast_mm)


def _forecast(
    blank: "Blank",
    forecast: ForecastSettings,
    thickness_mm: float,
    plenum_kpa: float | None,
    profile: str | None,
    shape: str | None,
    reducing: bool,
    zoned: "Zoned | None",
    clock: "Clock",
) -> "BuckForecast | None":
    """None where no forecast is wanted."""
    if forecast.quality == "off":
        return None
    from buckwright.forming.forecast.buck_forecast import forecast_buck
    from buckwright.shape.vents.settings import PLENUM_KPA

    forecast = in_its_frame(blank, forecast, profile=profile, shape=shape, reducing=reducing)
    forecast = under_zones(forecast, zoned)
    return forecast_buck(
        blank.mesh,
        levels_of(blank),
        forecast,
        sheet_mm=thickness_mm,
        plenum_kpa=PLENUM_KPA if plenum_kpa is None else plenum_kpa,
        clock=clock,
    )


def under_zones(forecast: ForecastSettings, zoned: "Zoned | None") -> ForecastSettings:
    """The settings with the heat of the heater's zones, where no heat map is given.

    Parameters
    ----------
    forecast : as set
    zoned : the sheet under the zones; None where they are not known
    """
    import attrs

    if zoned is None or forecast.heat_map.strip() or forecast.model == "geometric":
        return forecast
    return attrs.evolve(forecast, heat_map=zoned.heat_map)


def _findings(formed: "BuckForecast", told: Told) -> "list[Finding]":
    drained = told.get("drained")
    return [
        *findings.about_forecast(
            formed,
            offset=_offset(told),
            vents_known=drained is not None and drained.vents_known,
        ),
        *about_measured(_compared(formed, told), told.job.forecast.measured),
    ]


def _offset(told: Told) -> str:
    """Side of the part that buck or cavity was offset for, 'outside' or 'inside'; empty if it was not."""
    posed = told.get("posed")
    if posed is None or posed.offset is None:
        return ""
    return "inside" if told.stand.over else "outside"


def _compared(formed: "BuckForecast", told: Told) -> "Against | None":
    """What was measured on a part, against the forecast."""
    import numpy as np

    points = points_of(told.job.forecast.measured)
    if not points:
        return None
    return against(points, formed.thickness_at(np.array([point.at_mm for point in points])).tolist())


def _sections(formed: "BuckForecast", told: Told) -> Mapping[str, Any]:
    compared = _compared(formed, told)
    measured = None if compared is None else compared.to_dict()
    return {"forecast": formed.to_dict() | {"measured": measured, "on_machine": _on_machine(formed, told)}}


def _on_machine(formed: "BuckForecast", told: Told) -> dict[str, float] | None:
    """What the machine makes of it, by the parts that were measured; None where none were."""
    bias = told.job.machine.thickness_bias
    if bias is None:
        return None
    figures = formed.forecast.figures
    likely = {f"{key}_mm": bias * getattr(figures, f"{key}_mm") for key in ("weakest", "thin", "mean")}
    return {"thickness_bias": bias, **likely}


def _answers(formed: "BuckForecast", told: Told) -> list[Answer]:
    run = formed.forecast
    enough = "enough" if run.certain_mm >= HANDY_MM else "thin"
    return [
        Answer(
            "Thickness",
            f"{enough}: {run.weakest_words} at the weakest spot, {THIN_SHARE:.0%} of the part thinner than "
            f"{run.thin_words}, mean {run.figures.mean_mm:.2f} mm{_spread(run)}"
            f"{_machine_words(formed, told)}.",
        )
    ]


def _machine_words(formed: "BuckForecast", told: Told) -> str:
    likely = _on_machine(formed, told)
    if likely is None:
        return ""
    return (
        f"; parts of this machine came out {likely['thickness_bias']:.2f} times as thick as forecast, the "
        f"weakest spot then {likely['weakest_mm']:.2f} mm"
    )


def _spread(run: "Forecast") -> str:
    """What other nets and another heat of the sheet make of the weakest spot."""
    return "".join(f"; {words}" for words in (run.net_words, run.heat_words) if words)


def _facts(formed: "BuckForecast", told: Told) -> list[str]:
    if told.get("buck") is not None:
        return []
    width, depth = formed.forecast.settings.frame_mm
    return [f"Sheet forecast in a frame of {width:.0f} x {depth:.0f} mm"]


def _pictures(formed: "BuckForecast", told: Told) -> dict[str, bytes]:
    import numpy as np

    from buckwright.forming.forecast.pictures import ForecastScene, draw_forecast
    from buckwright.mesh.triangles import Mesh
    from buckwright.output.canvas.marks import RegionMark

    run = formed.forecast
    words = [
        (web.where_mm, f"web {web.length_mm:.0f} mm long{_where(web.crosses_trim_line)}")
        for web in run.webs[:_MOST_WEBS]
    ]
    words += [
        (pool.last_touched_mm, f"traps {pool.volume_mm3 / 1000.0:.2f} ml of air, touched last here")
        for pool in run.counted_air[:_MOST_AIR]
    ]
    thin = f"{THIN_SHARE:.0%} of the part thinner than {run.thin_words}"
    return draw_forecast(
        ForecastScene(
            title=told.title,
            sheet=Mesh(run.points, run.triangles),
            thickness_mm=run.thickness_mm,
            blank_mm=run.settings.sheet_mm,
            order=np.where(run.contact < 0.0, np.nan, run.contact),
            buck=told.results["blank"].mesh,
            weakest_at_mm=np.array(run.figures.weakest_at_mm),
            weakest_mm=run.figures.weakest_mm,
            webs=tuple(np.array(web.ends_mm) for web in run.webs[:_MOST_WEBS]),
            marks=tuple(RegionMark(i + 1, np.array(at), text) for i, (at, text) in enumerate(words)),
            facts=(
                f"Weakest spot {run.weakest_words}, mean over a disc of {DISC_MM:g} mm.",
                f"{thin}, mean {run.figures.mean_mm:.2f} mm.",
                *([f"{run.heat_words[0].upper()}{run.heat_words[1:]}."] if run.heat_words else ()),
            ),
        )
    )


def _where(crosses: bool | None) -> str:
    return {True: ", crosses the trim line", False: ", below the trim line", None: ""}[crosses]


def _arrays(formed: "BuckForecast", told: Told) -> Mapping[str, Any]:
    """The formed sheet in the buck's frame, what it lies on, and what it is like over each face of the file.

    The `coat` is the surface of the buck under the sheet, with values at its vertices. `thickness_mm` and
    `contact_order` (0 first .. 1 last) are nan where the sheet does not lie on a face.
    `sheet_contact` is -1 in the frame and nan where the sheet never arrives.
    """
    import numpy as np

    from buckwright.forming.forecast.coat import NEAR_CELLS, coat_of

    run = formed.forecast
    coat = coat_of(told.results["blank"].mesh, run)
    sheet = {
        "sheet_vertices": np.asarray(run.points, np.float64),
        "sheet_faces": np.asarray(run.triangles, np.int32),
        "sheet_thickness_mm": np.asarray(run.thickness_mm, np.float32),
        "sheet_contact": np.asarray(run.contact, np.float32),
        "coat_vertices": coat.mesh.vertices,
        "coat_faces": coat.mesh.faces,
        "coat_thickness_mm": coat.thickness_mm.astype(np.float32),
        "coat_contact": coat.order.astype(np.float32),
    }
    sources = told.sources()
    if sources is None:
        return sheet
    places = told.stand.places(sources.middles)
    thick, order, off = run.at(places)
    near = off <= NEAR_CELLS * run.cells_at(places)
    return sheet | {
        "thickness_mm": np.where(near, thick, np.nan).astype(np.float32),
        "contact_order": np.where(near, order, np.nan).astype(np.float32),
    }


def _automatic(formed: "BuckForecast") -> Mapping[str, Any]:
    run = formed.forecast
    return {
        "forecast.frame_mm": list(run.settings.frame_mm),
        "forecast.gap_mm": run.gap_to_frame_mm,
        "forecast.sharpest_radius_mm": run.settings.sharpest_radius_mm,
        "forecast.rim_colder_c": run.settings.rim_colder_c,
    }


FORECAST = Stage(
    name="forecast",
    title="forecasting the sheet",
    gives="formed",
    needs=(
        "blank",
        "forecast",
        "sheet.thickness_mm",
        "vents.plenum_kpa",
        "machine.profile",
        "machine.shape",
        "rig.reducing",
        "zoned",
    ),
    run=_forecast,
    beside=True,
    tables={"forecast": ForecastSettings},
    keep=True,
    kinds=(*findings.KINDS, MEASURED),
    findings=_findings,
    sections=_sections,
    answers=_answers,
    facts=_facts,
    papers=(Papers(make=_pictures, picture=True, after=("blank",)),),
    arrays=_arrays,
    automatic=_automatic,
    maps=(
        ColorMap(
            array="thickness_mm",
            label="Sheet Thickness",
            tip="Thickness of the formed sheet",
            unit="mm",
            dark="low",
        ),
        ColorMap(
            array="contact_order", label="Order of Contact", tip="When the sheet touches: 0 first, 1 last"
        ),
    ),
    figures=FIGURES,
)
