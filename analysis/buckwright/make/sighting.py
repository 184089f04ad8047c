"""`look`: survey a sculpt without making anything of it; loads no more of the library than it needs."""

from collections.abc import Callable
from pathlib import Path

from buckwright.findings import worst_first
from buckwright.forming.sheets.materials import sheet
from buckwright.job import Job
from buckwright.make.clock import Clock, Progress
from buckwright.make.findings import about_look
from buckwright.make.keeping import Keys, Store
from buckwright.make.looking import stood
from buckwright.make.outcome import Outcome, look_sections, report_of, shares, summary_of
from buckwright.make.publishing import Places, publish_look

__all__ = ["look"]


def look(
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
    """Survey a sculpt without making anything of it.

    Parameters
    ----------
    job : settings; those of fill, base and vents are not used
    out : folder for look.ply, report.json and pictures; None writes none of them
    progress, cancelled, gate : see `clock`
    pictures : False leaves them out
    results : folder for report.json and arrays.npz (see `handing`), for a program that shows them
    keep : folder of the stage store (see `keeping`), from which a next run takes what has not changed

    Raises
    ------
    InputError
        The sculpt or a setting cannot be used.
    OutputError
        The results cannot be written; nothing is left behind.
    Cancelled
        The user asked to stop.
    """
    places = Places(out, results)
    clock = Clock(progress, cancelled, gate)
    material = sheet(job.sheet.material)
    store, keys = Store(keep, clock), Keys(job, keep)
    standing, looked = store.recall("sculpt", keys.sculpt, lambda: stood(job, material, clock))
    findings = worst_first(about_look(standing, looked, job, material))
    sections = look_sections(standing, looked, lift_mm=0.0)
    empty = dict.fromkeys(("fill", "pockets", "vents", "evacuation_s", "base", "buck", "forecast"))
    report = report_of({**sections, **empty}, findings, clock)
    with clock.step("writing"):
        files = publish_look(places, job, standing, looked, report, clock, pictures=pictures)
    x, y, z = standing.mesh.size
    size = f"{x:.1f} x {y:.1f} x {z:.1f} mm with the allowance for shrinkage"
    facts = (f"{size}, {standing.mesh.face_count:,} faces; {shares(looked)}",)
    summary = summary_of(job, "looked at.", findings, facts, files)
    return Outcome(report, summary, files, looked.verdict.locked == 0)
