"""`make`: run a job from its file to its results."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from buckwright.findings import worst_first
from buckwright.forming.sheets.materials import SheetMaterial, sheet
from buckwright.job import Job
from buckwright.make.clock import Clock, Progress
from buckwright.make.findings import about_buck, about_look, about_solid
from buckwright.make.foretelling import about_forecast
from buckwright.make.handing import buck_arrays, face_sources, look_arrays, sheet_arrays
from buckwright.make.keeping import Keys, Store
from buckwright.make.looking import Looked, Verdict, look_over, stood
from buckwright.make.outcome import Outcome, look_sections, report_of, shares, summary_of
from buckwright.make.publishing import Places, publishing
from buckwright.make.shaping import Shaped, shape_buck
from buckwright.make.standing import Standing
from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.crossings import find_crossings
from buckwright.output.storable import StoredMesh, storable
from buckwright.shape.solid import as_mesh

__all__ = ["make"]


# A place of less than a tenth of a millimetre square holds no sheet: house rule.
_SPECK_MM2 = 0.01
# Files hold single precision: corners move by 1e-5 mm, and where slivers meet they cross by ten times that.
_FILE_DEPTH_MM = 1e-3


def make(
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
    """Make the buck of a job and write everything that belongs to it.

    Parameters
    ----------
    job : settings
    out : folder for buck.stl, buck.3mf, look.ply, report.json and pictures; None writes none of them
    progress, cancelled, gate : see `clock`
    pictures : False leaves them out
    results : folder for report.json and arrays.npz (see `handing`), for a program that shows them
    keep : folder of the stage store (see `keeping`), from which a next run takes what has not changed

    Raises
    ------
    InputError
        The sculpt or a setting cannot be used.
    SolidError
        A solid operation failed.
    OutputError
        The results cannot be written; nothing is left behind.
    Cancelled
        The user asked to stop; nothing is left behind.
    """
    places = Places(out, results)
    clock = Clock(progress, cancelled, gate)
    material = sheet(job.sheet.material)
    store, keys = Store(keep, clock), Keys(job, keep)
    standing, looked = store.recall("sculpt", keys.sculpt, lambda: stood(job, material, clock))
    shaped = shape_buck(standing, looked, job, material, clock, store, keys)
    with clock.step("rounding to what files hold"):
        stored = storable(as_mesh(shaped.solid))
    with publishing(places, job, standing, looked, shaped, stored, pictures=pictures) as drawn:
        again = store.recall("verdict", keys.verdict, lambda: _verdict(shaped, job, material, clock))
        with clock.step("checking the buck"):
            facts = _buck_dict(stored, shaped, again)
        findings = worst_first(
            [
                *about_look(standing, looked, job, material, lift_mm=shaped.base.foot_z_mm),
                *about_buck(standing, shaped, again, job),
                *about_solid(facts["watertight"], facts["crossing_pairs"]),
                *about_forecast(shaped.foretold, job),
            ]
        )
        sections = look_sections(standing, looked, lift_mm=shaped.base.foot_z_mm) | {
            "fill": shaped.fill.to_dict(),
            "pockets": [] if shaped.aired.pockets is None else shaped.aired.pockets.to_dict()["pockets"],
            "vents": [vent.to_dict() for vent in shaped.aired.plan.vents],
            "evacuation_s": list(shaped.aired.evacuation_s),
            "base": shaped.base_dict(),
            "buck": facts,
            "forecast": None if shaped.foretold is None else shaped.foretold.to_dict(),
        }
        arrays = _arrays(places, standing, looked, shaped, stored)
        with clock.step("drawing"):
            drawn.finish(clock.tick)
        report = report_of(sections, findings, clock)
        with clock.step("writing"):
            files = places.write(drawn.files(), report, arrays, clock.gate)
    releases = again.locked == 0
    summary = summary_of(job, _outcome_words(releases), findings, _buck_facts(facts, shaped, looked), files)
    return Outcome(report, summary, files, releases)


def _arrays(
    places: Places, standing: Standing, looked: Looked, shaped: Shaped, stored: StoredMesh
) -> dict[str, Any]:
    """The results as arrays, where a program wants them."""
    if places.results is None:
        return {}
    sources = face_sources(standing)
    lift = shaped.base.foot_z_mm
    seen = look_arrays(standing, looked, sources, lift_mm=lift) | buck_arrays(shaped, looked, sources, stored)
    return seen | sheet_arrays(shaped.foretold, sources, lift_mm=lift)


def _verdict(shaped: Shaped, job: Job, material: SheetMaterial, clock: Clock) -> Verdict:
    """A fresh survey of the blank buck: what stands above the trim line, judged like a sculpt."""
    with clock.step("surveying the buck"):
        plane = shaped.base.trim_z_mm
        part = shaped.blank.trim_by_plane((0.0, 0.0, 1.0), plane).translate((0.0, 0.0, -plane))
        foretold = shaped.foretold
        lift = np.array([0.0, 0.0, plane])
        thickness_at = None if foretold is None else lambda places: foretold.thickness_at(places + lift)
        seen = look_over(as_mesh(part), part, job, material, speck_mm2=_SPECK_MM2, thickness_at=thickness_at)
        return seen.verdict


def _buck_dict(stored: StoredMesh, shaped: Shaped, again: Verdict) -> dict[str, Any]:
    """Figures of the buck as its files hold it."""
    return {
        "faces": stored.face_count,
        "size_mm": stored.size,
        "volume_mm3": stored.volume_mm3(),
        "watertight": bool((edge_table(stored.faces).face_count == 2).all()),
        "crossing_pairs": find_crossings(stored, deeper_than_mm=_FILE_DEPTH_MM).count,
        "tunnels": shaped.solid.genus(),
        "sideways_left_mm": again.widest_mm,
        "dropped_slivers": shaped.dropped,
    }


def _outcome_words(releases: bool) -> str:
    if releases:
        return "the buck is ready to print."
    return "the buck was made, but the part cannot come off it as it stands."


def _buck_facts(buck: dict[str, Any], shaped: Shaped, looked: Looked) -> tuple[str, ...]:
    x, y, z = buck["size_mm"]
    volume = buck["volume_mm3"] / 1000.0
    return (
        f"Buck {x:.1f} x {y:.1f} x {z:.1f} mm, {volume:.0f} cm3, {buck['faces']:,} faces, "
        f"{len(shaped.aired.plan.vents)} vents, trim line {shaped.base.trim_z_mm:.1f} mm above the platen",
        f"Sculpt: {shares(looked)}; wanted draft {looked.wanted_deg:g} degrees",
    )
