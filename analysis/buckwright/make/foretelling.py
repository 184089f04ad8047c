"""The forecast of the sheet on the finished buck, and what is drawn from it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from buckwright.findings import Finding
from buckwright.forming.forecast.findings import about_air
from buckwright.forming.forecast.flare import Flare, flare_at
from buckwright.forming.forecast.forecast_sheet import Forecast, forecast_sheet
from buckwright.job import Job
from buckwright.make.clock import Clock
from buckwright.mesh.triangles import Mesh
from buckwright.relief.raster import Relief, relief_of
from buckwright.shape.base.base_plan import BasePlan

__all__ = ["Foretold", "about_forecast", "foretell"]

_PIXELS = 1024
_PREVIEW_SHARE = 4
# A riser is not raised by more only to lift the part out of the flare: house rule.
_MOST_RISE_MM = 15.0
# Room between base and frame where none is given: half the height, at least 25 mm. House rule.
_LEAST_GAP_MM, _GAP_SHARE = 25.0, 0.5
_GAPS = (0.25, 0.5, 1.0, 1.5)
# Fewer nodes than this only just see a pocket; no vent is drilled on their word.
_SEEN_NODES = 10
# Sheets that are sold nearly everywhere, mm: common practice, no source.
_GAUGES_MM = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
# A part that is handled needs about this much everywhere: house rule.
_HANDY_MM = 0.3
# Where the sheet stays farther off than this (in sheets) it does not lie on the place that is asked about.
_OFF_SHEETS = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Foretold:
    """What the sheet will do.

    Attributes
    ----------
    relief : the buck seen down the pull
    forecast : on a buck from which air leaves everywhere
    vented : the same with the vents that were fitted; None where vents do not follow the forecast
    gaps : figures for several gaps between base and frame; empty where they were not asked for
    flare : how the sheet stands at the trim line; None where there is none
    evacuation_s : time to empty each pocket of `forecast`, inf where no vent is under it; empty without vents
    """

    relief: Relief
    forecast: Forecast
    vented: Forecast | None = None
    gaps: tuple[dict[str, float], ...] = ()
    flare: Flare | None = None
    evacuation_s: tuple[float, ...] = ()

    @property
    def touched_last(self) -> NDArray[np.float64]:
        """Where the sheet arrives last in each pocket that is well seen, (N, 3), the largest first."""
        seen = [p.last_touched_mm for p in self.forecast.pockets if p.nodes >= _SEEN_NODES]
        return np.array(seen, np.float64).reshape(-1, 3)

    @property
    def vents_known(self) -> bool:
        """Whether it is known which vents the buck has."""
        return bool(self.evacuation_s) or self.vented is not None

    @property
    def bridged(self) -> int:
        """Pockets over which the sheet stays stretched in spite of the vents."""
        if self.vented is None:
            return 0
        left = 0.5 * self.forecast.settings.sheet_mm
        return sum(p.left_mm > left and p.nodes >= _SEEN_NODES for p in self.vented.pockets)

    def drained(self, base: BasePlan, job: Job, clock: Clock, vents_mm: NDArray[np.float64]) -> "Foretold":
        """The same with a second run in which air leaves by the vents only."""
        with clock.step("forecasting with the vents"):
            vented = _run(self.relief, job, clock.tick, base=base, vents_mm=vents_mm, quality="preview")
        return replace(self, vented=vented)

    def thickness_at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Thickness of the sheet at places of the buck (N, 3), (N,); nan where it does not lie on them."""
        thick, off = self.forecast.thickness_at(places)
        near = (off <= _OFF_SHEETS * self.forecast.settings.sheet_mm) & (thick > 0.0)
        return np.where(near, thick, np.nan)

    def to_dict(self) -> dict[str, Any]:
        """The section `forecast` of the report."""
        figures = self.forecast.to_dict() | {"gaps": list(self.gaps)}
        for pocket, seconds in zip(figures["pockets"], self.evacuation_s):
            pocket["evacuation_s"] = seconds
        figures["at_trim_line"] = None if self.flare is None else self.flare.to_dict()
        if self.vented is not None:
            figures["with_vents"] = {"pockets": len(self.vented.pockets), "bridged": self.bridged}
        return figures


def foretell(mesh: Mesh, base: BasePlan | None, job: Job, clock: Clock) -> Foretold:
    """Forecast the sheet on a buck that stands on z = 0; a preview unless the job wants a fine one.

    Raises
    ------
    InputError
        Frame, machine and buck do not fit together.
    """
    relief = relief_of(mesh, pixel_mm=float(mesh.size[:2].max()) / _PIXELS)
    quality: Literal["preview", "fine"] = "fine" if job.forecast.quality == "fine" else "preview"
    with clock.step("forecasting the sheet"):
        result = _run(relief, job, clock.tick, base=base, quality=quality)
        flare = None if base is None else _flare(relief, result, base)
    if not job.forecast.compare_gaps:
        return Foretold(relief, result, flare=flare)
    with clock.step("comparing gaps"):
        height = float(relief.height.max())
        gaps = [max(share * height, 5.0) for share in _GAPS]
        rows = []
        for done, gap in enumerate(gaps):
            clock.tick(done / len(gaps))
            run = _run(relief, job, clock.ask, base=base, quality="preview", frame_mm=_frame(relief, gap))
            rows.append(_gap_row(gap, run))
    return Foretold(relief, result, gaps=tuple(rows), flare=flare)


def _flare(relief: Relief, run: Forecast, base: BasePlan) -> Flare:
    # the ledge at the trim line stands out of the wall
    within = max(run.settings.sheet_mm, 0.25 * run.settings.cell_mm) + base.step_mm
    return flare_at(run.points, run.triangles, relief, trim_mm=base.trim_z_mm, tolerance_mm=within)


def _run(
    relief: Relief,
    job: Job,
    tick: Callable[[float], None],
    *,
    base: BasePlan | None,
    quality: Literal["preview", "fine"],
    vents_mm: NDArray[np.float64] | None = None,
    frame_mm: tuple[float, float] | None = None,
) -> Forecast:
    chosen = job.forecast
    if frame_mm is None:
        frame_mm = chosen.frame_mm or _frame(relief, chosen.gap_mm)
    return forecast_sheet(
        relief,
        frame_mm=frame_mm,
        sheet_mm=job.sheet.thickness_mm,
        model=chosen.model,
        law=chosen.law,
        sag_mm=chosen.sag_mm,
        friction=chosen.friction,
        nodes=chosen.nodes if quality == "fine" else max(chosen.nodes // _PREVIEW_SHARE, 1000),
        quality=quality,
        sharpest_radius_mm=chosen.sharpest_radius_mm,
        vents_mm=vents_mm,
        # under the trim line there is no part, and the base has its ring of vents there
        foot_mm=0.0 if base is None else max(base.flange_z_mm, base.trim_z_mm),
        trim_mm=None if base is None else base.trim_z_mm,
        tallest_mm=chosen.tallest_mm,
        tick=tick,
    )


def _frame(relief: Relief, gap_mm: float | None) -> tuple[float, float]:
    """Frame round the buck at a gap, which follows from the height where it is None."""
    ends = relief.raised_pixels()
    if ends is None:
        return (1.0, 1.0)
    gap = gap_mm or max(_GAP_SHARE * float(relief.height.max()), _LEAST_GAP_MM)
    wide, deep = ends[1] - ends[0]
    return float(wide * relief.pixel_mm + 2.0 * gap), float(deep * relief.pixel_mm + 2.0 * gap)


def _gap_row(gap_mm: float, run: Forecast) -> dict[str, float]:
    width, depth = run.settings.frame_mm
    return {
        "gap_mm": gap_mm,
        "thinnest_mm": run.thinnest_mm,
        "fifth_percentile_mm": run.percentiles_mm[1],
        "mean_mm": run.mean_mm,
        "web_length_mm": sum(web.length_mm for web in run.webs),
        "frame_width_mm": width,
        "frame_depth_mm": depth,
        "blank_area_cm2": width * depth / 100.0,
    }


def about_forecast(foretold: Foretold | None, job: Job) -> list[Finding]:
    """Findings about the formed part."""
    if foretold is None:
        return []
    # where vents are known there is a better word on the air
    better_said = about_air(foretold.forecast) if foretold.vents_known else []
    return [
        *(finding for finding in foretold.forecast.findings if finding not in better_said),
        *_thicker(foretold.forecast),
        *_flared(foretold),
        *_vented(foretold),
        *_emptied(foretold, job),
        *_outside(foretold.forecast, job),
        *_gaps(foretold),
    ]


def _thicker(run: Forecast) -> list[Finding]:
    """Which sheet leaves enough at the thinnest place: thickness goes with that of the sheet."""
    share = run.thinnest_mm / run.settings.sheet_mm
    if run.thinnest_mm >= _HANDY_MM:
        return []
    better = next((g for g in _GAUGES_MM if g > run.settings.sheet_mm and g * share >= _HANDY_MM), None)
    x, y, z = run.thinnest_at_mm
    if better is None:
        words = f"No usual sheet leaves {_HANDY_MM:g} mm at x {x:.0f}, y {y:.0f}, z {z:.0f} mm."
        return [Finding("note", words, "Lower that place, round it, or give it more draft and more room.")]
    words = (
        f"Start with {better:g} mm instead of {run.settings.sheet_mm:g} mm: thinnest {better * share:.2f} mm "
        f"at x {x:.0f}, y {y:.0f}, z {z:.0f} mm."
    )
    return [Finding("note", words)]


def _flared(foretold: Foretold) -> list[Finding]:
    """Whether the part ends in the sheet's curve over the foot."""
    flare = foretold.flare
    if flare is None or not flare.matters:
        return []
    words = (
        f"At the trim line the sheet stands off the wall by up to {flare.stands_off_mm:.1f} mm, along "
        f"{flare.share:.0%} of its length: the part's edge would flare out."
    )
    if flare.clear_mm is None or flare.clear_mm > _MOST_RISE_MM:
        return [
            Finding("note", words, "Give the wall more draft or the frame more room, or trim by the wall.")
        ]
    advice = f"Raise the riser by {flare.clear_mm:.1f} mm ([base] riser_mm), and the edge lies on the wall."
    return [Finding("note", words, advice)]


def _vented(foretold: Foretold) -> list[Finding]:
    if foretold.vented is None:
        return []
    if not foretold.bridged:
        return [Finding("note", "With these vents every pocket of the forecast drains.")]
    words = f"With these vents the sheet still stays bridged over {foretold.bridged} pockets of the forecast."
    return [Finding("warn", words, "Add a vent where the forecast marks them, or allow narrower bores.")]


def _emptied(foretold: Foretold, job: Job) -> list[Finding]:
    """Whether the vents lie where the forecast shuts air in, and how fast they empty it."""
    pockets = foretold.forecast.pockets
    seen = [(p, s) for p, s in zip(pockets, foretold.evacuation_s) if p.nodes >= _SEEN_NODES]
    if not seen:
        return []
    bare = [pocket for pocket, seconds in seen if not np.isfinite(seconds)]
    if bare and foretold.vented is None:
        x, y, z = bare[0].last_touched_mm
        words = (
            f"{len(bare)} of {len(seen)} places where the forecast shuts air in have no vent under them, "
            f"the largest at x {x:.0f}, y {y:.0f}, z {z:.0f} mm."
        )
        return [Finding("note", words, "Set place_vents under [forecast], and vents follow the forecast.")]
    slow = [seconds for _, seconds in seen if job.vents.target_s < seconds < np.inf]
    if not slow:
        return []
    words = f"{len(slow)} pockets of the forecast empty slowly, the worst in {max(slow):.1f} s."
    return [Finding("note", words, "More or wider vents there keep detail sharp.")]


def _outside(run: Forecast, job: Job) -> list[Finding]:
    """Whether the thickness that an offset for the outside was made for is the one that is forecast."""
    if job.fit.controlled_side != "outside":
        return []
    words = f"The forecast's mean thickness on the buck is {run.mean_mm:.2f} mm."
    advice = f"Set formed_thickness_mm = {run.mean_mm:.2f} under [fit] to offset the buck for it."
    return [Finding("note", words, advice)]


def _gaps(foretold: Foretold) -> list[Finding]:
    if not foretold.gaps:
        return []
    rows = "; ".join(
        f"{row['gap_mm']:.0f} mm: thinnest {row['thinnest_mm']:.2f}, mean {row['mean_mm']:.2f}, webs "
        f"{row['web_length_mm']:.0f}, blank {row['blank_area_cm2']:.0f} cm2"
        for row in foretold.gaps
    )
    return [Finding("note", f"Gaps to the frame compared (mm): {rows}.")]
