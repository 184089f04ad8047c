"""The forecast of the sheet on a buck: frame and gap, the run, the flare at the trim line, other gaps."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from buckwright.atmosphere import ATMOSPHERE_PA
from buckwright.clock import Clock
from buckwright.forming.forecast.bands import band_of, other_heat_of
from buckwright.forming.forecast.flare import Flare, flare_at
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.gauges import Gauge, better_gauge
from buckwright.forming.forecast.heat import RIM_COLDER_C, rim_colder_of
from buckwright.forming.forecast.heat_map import EVEN
from buckwright.forming.forecast.request import CELL_SHARE, RADIUS_PULL, pressure_per_mm
from buckwright.forming.forecast.result import Forecast
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.mesh.triangles import Mesh
from buckwright.relief.raster import Relief, relief_of

__all__ = ["BuckForecast", "Levels", "Quality", "forecast_buck", "form_on", "frame_round", "run_forecast"]

_PIXELS = 1024
_COARSER = 4  # times fewer nodes at first in a preview, and on the net that a band comes from
_LEAST_NODES = 400
# Room between base and frame where none is given: half the height, at least 25 mm. House rule.
_LEAST_GAP_MM, _GAP_SHARE = 25.0, 0.5
_GAPS = (0.25, 0.5, 1.0, 1.5)
# Where the sheet stays farther off than this (in sheets) it does not lie on the place that is asked about.
_OFF_SHEETS = 4.0

type Quality = Literal["preview", "fine"]


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Heights of a base that the forecast needs, mm over the platen.

    Attributes
    ----------
    foot_mm : up to here there is no part and the air has its vents
    trim_mm : the trim line; None where there is none
    flange_mm : upper side of the flange, where the riser begins; that of the trim line without a riser
    step_mm : width of the ledge at the trim line
    clamp_mm : where the frame comes to rest
    rim : outlines (M, 2) each of a cavity at its trim line, below which the part lies; empty for a buck
    """

    foot_mm: float = 0.0
    trim_mm: float | None = None
    flange_mm: float | None = None
    step_mm: float = 0.0
    clamp_mm: float = 0.0
    rim: tuple[NDArray[np.float64], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class BuckForecast:
    """What the sheet will do on a buck from which air leaves everywhere.

    Attributes
    ----------
    relief : the buck seen down the pull
    forecast : the run
    gaps : figures for several gaps between base and frame; empty where they were not asked for
    flare : how the sheet stands at the trim line; None where there is none
    gauge : a sheet that would leave enough at the weakest spot; None where none is needed or found
    """

    relief: Relief
    forecast: Forecast
    gaps: tuple[dict[str, float], ...] = ()
    flare: Flare | None = None
    gauge: Gauge | None = None

    @property
    def touched_last(self) -> NDArray[np.float64]:
        """Where the sheet arrives last in each pool of air, (N, 3), the largest first."""
        seen = [pool.last_touched_mm for pool in self.forecast.trapped_air]
        return np.array(seen, np.float64).reshape(-1, 3)

    def thickness_at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Thickness of the sheet at places of the buck.

        Parameters
        ----------
        places : (N, 3) float64, mm

        Returns
        -------
        (N,) float64, mm; nan where the sheet does not lie on them
        """
        thick, off = self.forecast.thickness_at(places)
        near = (off <= _OFF_SHEETS * self.forecast.settings.sheet_mm) & (thick > 0.0)
        return np.where(near, thick, np.nan)

    def to_dict(self) -> dict[str, Any]:
        """The section `forecast` of the report."""
        flare = None if self.flare is None else self.flare.to_dict()
        gauge = None if self.gauge is None else self.gauge.to_dict()
        return self.forecast.to_dict() | {
            "gaps": list(self.gaps),
            "at_trim_line": flare,
            "thicker_sheet": gauge,
        }


def forecast_buck(
    mesh: Mesh,
    levels: Levels,
    settings: ForecastSettings,
    *,
    sheet_mm: float,
    plenum_kpa: float,
    clock: Clock,
) -> BuckForecast:
    """Forecast the sheet on a buck that stands on z = 0.

    Parameters
    ----------
    mesh : of the buck, pull +Z, mm
    levels : of its base
    settings : the table [forecast]
    sheet_mm : thickness of the flat sheet
    plenum_kpa : absolute pressure under the platen
    clock : steps are told to it

    Returns
    -------
    BuckForecast

    Raises
    ------
    InputError
        Frame, machine and buck do not fit together.
    Cancelled
        The user asked to stop.
    """
    relief = _relief(mesh)
    quality: Quality = "fine" if settings.quality == "fine" else "preview"
    asked = partial(run_forecast, relief, levels, settings, plenum_kpa=plenum_kpa)

    def on_a_coarser_net(clock: Clock) -> tuple[Forecast, Forecast | None]:
        again = partial(asked, clock.tick, sheet_mm=sheet_mm, quality=quality, coarser=True)
        with clock.step("forecasting on a coarser net"):
            coarse = again()
        if settings.model != "membrane":
            return coarse, None
        with clock.step("forecasting another heat"):
            return coarse, again(other_heat=True)

    with clock.beside(on_a_coarser_net) as coarser:
        with clock.step("forecasting the sheet"):
            run = asked(clock.tick, sheet_mm=sheet_mm, quality=quality)
            flare = (
                None if levels.trim_mm is None or levels.rim else _flare(relief, run, levels.trim_mm, levels)
            )
        coarse, other = coarser.result()
    blind = run.overlooks and quality == "preview"
    run = replace(run, band=band_of(run.figures, coarse.figures, overlooks=blind), half_net=coarse.figures)
    if other is not None:
        rim = other.settings.rim_colder_c
        heated = other_heat_of(run.figures, coarse.figures, other.figures, rim_colder_c=rim)
        run = replace(run, other_heat=heated)
    with clock.step("trying a thicker sheet"):
        gauge = better_gauge(run, lambda other: asked(clock.tick, sheet_mm=other, quality="preview"))
    rows: list[dict[str, float]] = []
    if settings.compare_gaps:
        with clock.step("comparing gaps"):
            rows = _compared_gaps(relief, levels, settings, sheet_mm, plenum_kpa, clock)
    return BuckForecast(relief, run, gaps=tuple(rows), flare=flare, gauge=gauge)


def form_on(
    mesh: Mesh,
    levels: Levels,
    settings: ForecastSettings,
    *,
    sheet_mm: float,
    plenum_kpa: float,
    quality: Quality,
    tick: Callable[[float], None],
) -> Forecast:
    """The sheet on a buck and nothing else: the first run of `forecast_buck`, with the same parameters."""
    relief = _relief(mesh)
    return run_forecast(
        relief, levels, settings, tick, sheet_mm=sheet_mm, plenum_kpa=plenum_kpa, quality=quality
    )


def _relief(mesh: Mesh) -> Relief:
    return relief_of(mesh, pixel_mm=float(mesh.size[:2].max()) / _PIXELS)


def run_forecast(
    relief: Relief,
    levels: Levels,
    settings: ForecastSettings,
    tick: Callable[[float], None],
    *,
    sheet_mm: float,
    plenum_kpa: float,
    quality: Quality,
    vents_mm: NDArray[np.float64] | None = None,
    frame_mm: tuple[float, float] | None = None,
    coarser: bool = False,
    other_heat: bool = False,
    begun: Forecast | None = None,
) -> Forecast:
    """One run of the sheet; errors as `forecast_buck`.

    Parameters
    ----------
    relief : the buck seen down the pull
    levels : of its base
    settings : the table [forecast]
    tick : called with the share that is done, 0..1; may raise to stop
    sheet_mm : thickness of the flat sheet
    plenum_kpa : absolute pressure under the platen
    quality : 'fine', or 'preview' with a quarter of the nodes
    vents_mm : (V, 3) vents, mm, by which alone air leaves; None: it leaves everywhere
    frame_mm : width and depth of the frame, mm; None takes that of the settings
    coarser : on a net with a quarter of the nodes at first and cells twice as long at last
    other_heat : evenly warm where the settings have it otherwise, else with the usual cold rim
    begun : a run of the same sheet that differs in nothing but its vents; this one goes on where it had its
        frame down

    Returns
    -------
    Forecast
    """
    if frame_mm is None:
        frame_mm = settings.frame_mm or _frame(relief, settings.gap_mm)
    given = settings.sharpest_radius_mm is not None
    pressure, modulus = ATMOSPHERE_PA - 1e3 * plenum_kpa, 1e3 * settings.hot_modulus_kpa
    radius = settings.sharpest_radius_mm or RADIUS_PULL / pressure_per_mm(sheet_mm, None, pressure, modulus)
    rim, heat_map = _heat_of(settings, other=other_heat)
    nodes = settings.nodes // (_COARSER if quality == "preview" else 1) // (_COARSER if coarser else 1)
    return forecast_sheet(
        relief,
        frame_mm=frame_mm,
        sheet_mm=sheet_mm,
        model=settings.model,
        law=settings.law,
        sag_mm=settings.sag_mm,
        friction=settings.friction,
        sticks_after=None if settings.friction is None else settings.sticks_after,
        rim_colder_c=rim,
        heat_map=heat_map,
        nodes=max(nodes, _LEAST_NODES),
        finest_mm=2.0 * CELL_SHARE[quality] * radius if coarser and settings.model == "membrane" else None,
        quality="preview" if coarser else quality,
        sharpest_radius_mm=settings.sharpest_radius_mm,
        pressure_pa=None if given else pressure,
        modulus_pa=None if given else modulus,
        vents_mm=vents_mm,
        platen_mm=levels.clamp_mm,
        foot_mm=levels.foot_mm,
        trim_mm=levels.trim_mm,
        rim=levels.rim,
        machine_height_mm=settings.machine_height_mm,
        begun=begun,
        tick=tick,
    )


def _heat_of(settings: ForecastSettings, *, other: bool) -> tuple[float, str]:
    """How much colder the rim is, and the heat map; or the other guess of both."""
    rim = rim_colder_of(settings.rim_colder_c, heat_map=settings.heat_map, model=settings.model)
    if not other:
        return rim, settings.heat_map
    return (0.0 if rim or settings.heat_map.strip() else RIM_COLDER_C), EVEN


def _compared_gaps(
    relief: Relief,
    levels: Levels,
    settings: ForecastSettings,
    sheet_mm: float,
    plenum_kpa: float,
    clock: Clock,
) -> list[dict[str, float]]:
    height = float(relief.height.max())
    gaps = [max(share * height, 5.0) for share in _GAPS]
    rows = []
    for done, gap in enumerate(gaps):
        clock.tick(done / len(gaps))
        frame = _frame(relief, gap)
        run = run_forecast(
            relief,
            levels,
            settings,
            clock.ask,
            sheet_mm=sheet_mm,
            plenum_kpa=plenum_kpa,
            quality="preview",
            frame_mm=frame,
        )
        rows.append(_gap_row(gap, run))
    return rows


def _flare(relief: Relief, run: Forecast, trim_mm: float, levels: Levels) -> Flare:
    # the ledge at the trim line stands out of the wall
    within = max(run.settings.sheet_mm, 0.25 * _cell_at(run, trim_mm)) + levels.step_mm
    sheet = run.points, run.triangles, relief
    return flare_at(*sheet, trim_mm=trim_mm, tolerance_mm=within, floor_mm=levels.flange_mm)


def _cell_at(run: Forecast, z_mm: float) -> float:
    """Length of the sheet's cells on the buck at a height, the median."""
    z = run.points[:, 2]
    cells = run.cells_mm[run.on_buck & (np.abs(z - z_mm) < run.settings.cell_mm)]
    return float(np.median(cells)) if len(cells) else run.settings.cell_mm


def frame_round(base_mm: tuple[float, float], height_mm: float, gap_mm: float | None) -> tuple[float, float]:
    """Frame round a base at a gap.

    Parameters
    ----------
    base_mm : width and depth of the base
    height_mm : of the buck
    gap_mm : room on each side; None for half the height, at least 25 mm (house rule)

    Returns
    -------
    tuple : clear width and depth, mm
    """
    gap = gap_mm or max(_GAP_SHARE * height_mm, _LEAST_GAP_MM)
    return base_mm[0] + 2.0 * gap, base_mm[1] + 2.0 * gap


def _frame(relief: Relief, gap_mm: float | None) -> tuple[float, float]:
    """Frame round the buck at a gap, which follows from the height where it is None."""
    ends = relief.raised_pixels()
    if ends is None:
        return (1.0, 1.0)
    wide, deep = ends[1] - ends[0]
    size = float(wide * relief.pixel_mm), float(deep * relief.pixel_mm)
    return frame_round(size, float(relief.height.max()), gap_mm)


def _gap_row(gap_mm: float, run: Forecast) -> dict[str, float]:
    width, depth = run.settings.frame_mm
    return {
        "gap_mm": gap_mm,
        "weakest_mm": run.figures.weakest_mm,
        "thin_mm": run.figures.thin_mm,
        "mean_mm": run.figures.mean_mm,
        "web_length_mm": sum(web.length_mm for web in run.webs),
        "frame_width_mm": width,
        "frame_depth_mm": depth,
        "blank_area_cm2": width * depth / 100.0,
    }
