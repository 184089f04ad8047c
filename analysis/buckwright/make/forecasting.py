"""`forecast`: what the sheet will do on a buck, without making the buck."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from buckwright.findings import worst_first
from buckwright.forming.sheets.materials import sheet
from buckwright.job import Job
from buckwright.make.clock import Clock, Progress
from buckwright.make.foretelling import Foretold, about_forecast, foretell
from buckwright.make.handing import face_sources, look_arrays, sheet_arrays
from buckwright.make.keeping import Keys, Store
from buckwright.make.looking import stood
from buckwright.make.outcome import Outcome, look_sections, report_of, summary_of
from buckwright.make.publishing import Places, written
from buckwright.make.shaping import shape_blank
from buckwright.mesh.triangles import Mesh
from buckwright.output.files import Writer
from buckwright.shape.solid import as_mesh

__all__ = ["forecast", "forecast_on"]


def forecast(
    job: Job,
    out: Path | None,
    *,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    gate: Callable[[], None] | None = None,
    pictures: bool = True,
    results: Path | None = None,
    keep: Path | None = None,
) -> Outcome:
    """Forecast the sheet on the buck of a job without drilling or writing the buck.

    Parameters, results and errors are those of `make`; of the files only report.json and the pictures of the
    sheet are written.
    """
    places = Places(out, results)
    clock = Clock(progress, cancelled, gate)
    material = sheet(job.sheet.material)
    store, keys = Store(keep, clock), Keys(job, keep)
    standing, looked = store.recall("sculpt", keys.sculpt, lambda: stood(job, material, clock))
    base, blank = shape_blank(standing, looked, job, clock, store, keys)
    mesh = as_mesh(blank)
    foretold = foretell(mesh, base, job, clock)
    arrays: dict[str, Any] = {}
    if places.results is not None:
        sources, lift = face_sources(standing), base.foot_z_mm
        arrays = look_arrays(standing, looked, sources, lift_mm=lift)
        arrays |= sheet_arrays(foretold, sources, lift_mm=lift)
    sections = look_sections(standing, looked, lift_mm=base.foot_z_mm)
    return _told(places, job, foretold, mesh, sections, arrays, clock, pictures=pictures)


def forecast_on(
    buck: Mesh,
    job: Job,
    out: Path | None,
    *,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    pictures: bool = True,
) -> Outcome:
    """Forecast the sheet on a buck that exists: a mesh in mm, pull +Z, which is set down on z = 0.

    Raises
    ------
    InputError
        Frame, machine and buck do not fit together.
    OutputError
        The results cannot be written; nothing is left behind.
    """
    places = Places(out)
    clock = Clock(progress, cancelled)
    low = float(buck.bounds[0, 2])
    buck = Mesh(buck.vertices - np.array([0.0, 0.0, low]), buck.faces)
    foretold = foretell(buck, None, job, clock)
    names = ("input", "frame", "pull", "draft", "undercuts")
    return _told(places, job, foretold, buck, dict.fromkeys(names), {}, clock, pictures=pictures)


def _told(
    places: Places,
    job: Job,
    foretold: Foretold,
    buck: Mesh,
    sections: dict[str, Any],
    arrays: dict[str, Any],
    clock: Clock,
    *,
    pictures: bool,
) -> Outcome:
    """Report, pictures and summary of a forecast alone."""
    findings = worst_first(about_forecast(foretold, job))
    empty = dict.fromkeys(("fill", "pockets", "vents", "evacuation_s", "base", "buck"))
    files: dict[str, Writer] = {}
    if pictures and places.out is not None:
        with clock.step("drawing"):
            from buckwright.make.picturing import sheet_pictures

            files = {name: written(data) for name, data in sheet_pictures(job, foretold, buck).items()}
    report = report_of({**sections, **empty, "forecast": foretold.to_dict()}, findings, clock)
    with clock.step("writing"):
        paths = places.write(files, report, arrays, clock.gate)
    run = foretold.forecast
    width, depth = run.settings.frame_mm
    facts = (
        f"Sheet {run.settings.sheet_mm:g} mm in a frame of {width:.0f} x {depth:.0f} mm: thinnest "
        f"{run.thinnest_mm:.2f}, mean {run.mean_mm:.2f} mm; {run.areal_draw_ratio:.2f} times its area",
        run.trust,
    )
    return Outcome(report, summary_of(job, "the sheet was forecast.", findings, facts, paths), paths, True)
