"""The pull log of a job: its records, what they say of heater and sheet, and what to try next."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import attrs
import numpy as np

from buckwright.errors import JobError, OutputError
from buckwright.findings import counted
from buckwright.job import Job
from buckwright.output.journal import held_signals, locked
from buckwright.pipeline.pull_notes import log_of
from buckwright.pipeline.settled import settled
from buckwright.workshop.log.advice import (
    Advice,
    Bias,
    advise,
    best_pull,
    change_words,
    changes,
    recipe,
    thickness_bias,
)
from buckwright.workshop.log.book import read_pulls, replace_file
from buckwright.workshop.log.carrying import Carrying, fit_carrying
from buckwright.workshop.log.cooling import Cooling, fit_cooling
from buckwright.workshop.log.fitting import Fitted, Ripening, fit_pulls
from buckwright.workshop.log.record import PullRecord
from buckwright.workshop.machine.own import with_bias

__all__ = ["LogView", "carry_words", "hold_words", "keep_bias", "log_lines", "view_log"]

_NEVER_S = 36_000.0


@dataclass(frozen=True, slots=True)
class LogView:
    """Everything that a log tells.

    Attributes
    ----------
    pulls : the oldest first
    best : place of the best among them; None where none has marks
    changed : what was changed before the last pull, old and new by key
    fitted, carrying, cooling, advice, bias : see there
    """

    pulls: tuple[PullRecord, ...]
    best: int | None
    changed: Mapping[str, tuple[Any, Any]]
    fitted: Fitted
    carrying: Carrying
    cooling: Cooling | None
    advice: Advice
    bias: Bias | None


def view_log(job: Job, *, path: Path | None = None) -> LogView:
    """Read the log of a job and work out what it says.

    Parameters
    ----------
    job : settings
    path : of the log; None for that of the job

    Raises
    ------
    JobError
        The log cannot be read, or the sheet cannot be heated as it is set.
    """
    from buckwright.forming.sheets.materials import sheet as material_of

    pulls = read_pulls(log_of(job) if path is None else path)
    now = settled(job)
    material = material_of(now.sheet.material)
    mine = _of_this_sheet(pulls, now)
    fitted = fit_pulls(
        mine,
        _ripening(now),
        sag_share=(material.sag_share.low, material.sag_share.high),
        opening_mm=_opening_mm(now),
    )
    carrying, cooling = _after_fits(mine, now)
    return LogView(
        pulls=pulls,
        best=best_pull(pulls),
        changed=changes(pulls[-2], pulls[-1]) if len(pulls) > 1 else {},
        fitted=fitted,
        carrying=carrying,
        cooling=cooling,
        advice=advise(pulls, fitted, carrying),
        bias=thickness_bias(pulls),
    )


def _of_this_sheet(pulls: Sequence[PullRecord], job: Job) -> list[PullRecord]:
    """Pulls of the job's sheet; what was not noted is taken to be that."""
    return [
        pull
        for pull in pulls
        if pull.material in ("", job.sheet.material) and pull.thickness_mm in (None, job.sheet.thickness_mm)
    ]


def _opening_mm(job: Job) -> float | None:
    from buckwright.workshop.machine.own import machine

    frame = job.forecast.frame_mm
    if frame is None and job.machine.profile is not None:
        frame = machine(job.machine.profile).frame_mm
    return None if frame is None else float(min(frame))


def _ripening(job: Job) -> Callable[[float], Ripening]:
    """How the job's sheet ripens in its heater, by strength over the one that is set."""
    from buckwright.forming.heating.sheet_heating import heating_course
    from buckwright.forming.sheets.materials import sheet as material_of

    heating, material = job.heating, material_of(job.sheet.material)
    key, usual = heating.strength
    start, room = material.forming_lowest_c.high, heating.room_c
    span = material.forming_normal_c.middle - start

    def ripen(strength: float) -> Ripening:
        value = strength * usual if key == "flux_kw_m2" else room + strength * (usual - room)
        course = heating_course(material, job.sheet.thickness_mm, heating, value)
        earliest, latest, best = (min(moment, _NEVER_S) for moment in course.events_s)
        end = float(course.time_s[-1])

        def ripeness(seconds: float) -> float:
            return (float(np.mean(course.at(min(seconds, end)))) - start) / span

        return Ripening(earliest, min(max(best, earliest), max(latest, earliest)), latest, ripeness)

    return ripen


def _after_fits(mine: Sequence[PullRecord], job: Job) -> tuple[Carrying, Cooling | None]:
    """What pulls of the job's sheet say of the way to the buck, and of the time on it after such a way."""
    carrying = fit_carrying(mine, job.heating.carry_s, hold_s=_after_heating_s(job)(None)[0])
    after = _after_heating_s(job.evolved(heating={"carry_s": carrying.carry_s}))
    return carrying, fit_cooling(mine, lambda buck_c: after(buck_c)[1])


def _after_heating_s(job: Job) -> Callable[[float | None], tuple[float, float]]:
    """For how long heating expects the sheet to stay warm enough in the air, and the time on the buck."""
    from buckwright.forming.heating.sheet_heating import after_heating_s
    from buckwright.forming.heating.stage import of_print
    from buckwright.forming.sheets.materials import sheet as material_of

    heating, material = of_print(job.heating, job.tables["print"].material), material_of(job.sheet.material)

    @cache
    def expected(buck_c: float | None) -> tuple[float, float]:
        asked = heating if buck_c is None else attrs.evolve(heating, buck_c=buck_c)
        return after_heating_s(material, job.sheet.thickness_mm, asked)

    return expected


def keep_bias(job: Job) -> tuple[Path, float]:
    """Write the bias of the log's points into the table of the job's machine, in the user's own file.

    Parameters
    ----------
    job : settings

    Returns
    -------
    Path, float : the file, and the ratio of measured to forecast thickness

    Raises
    ------
    JobError
        No point of the log has a forecast beside it, or the machine is none of the user's own.
    OutputError
        The file cannot be written; it stays as it was.
    """
    bias = thickness_bias(read_pulls(log_of(job)))
    if bias is None:
        raise JobError("the log has no thickness with its forecast yet: note some as 'brow 0.52/0.60'")
    path, _ = with_bias(job.machine.profile, bias.ratio)
    try:
        with held_signals(), locked(path.parent):
            _, text = with_bias(job.machine.profile, bias.ratio)  # as it stands now that others are kept out
            replace_file(path, text.encode())
    except OSError as error:
        raise OutputError(f"{path} was not written: {error.strerror or error}") from error
    return path, bias.ratio


def hold_words(cooling: Cooling) -> str:
    """How long to hold, in one sentence.

    Parameters
    ----------
    cooling : from `fit_cooling`
    """
    return (
        f"Hold {cooling.hold_s:.0f} s ({cooling.low_s:.0f} to {cooling.high_s:.0f}) until the part is stiff: "
        f"{cooling.factor:.2f} times what heating expects (±{cooling.factor_sd:.0%})."
    )


def carry_words(carrying: Carrying) -> str:
    """How long the sheet is on its way, in one sentence.

    Parameters
    ----------
    carrying : from `fit_carrying`
    """
    enough = ""
    if math.isfinite(carrying.hold_s):
        enough = f"; it stays warm enough for {carrying.hold_s:.1f} s"
    return (
        f"The sheet is {carrying.carry_s:.1f} s on its way to the buck "
        f"({carrying.low_s:.1f} to {carrying.high_s:.1f}){enough}."
    )


def _after_lines(pulls: Sequence[PullRecord], job: Job) -> list[str]:
    """Only where somebody has noted the seconds: heating itself says the rest."""
    mine = _of_this_sheet(pulls, job)
    if all(pull.stiff_s is None and pull.carry_s is None for pull in mine):
        return []
    carrying, cooling = _after_fits(mine, job)
    lines = [carry_words(carrying)] if carrying.observed else []
    return lines if cooling is None or not cooling.observed else [*lines, hold_words(cooling)]


def log_lines(job: Job) -> tuple[str, ...]:
    """The log in a few lines, for the job sheet; none where nothing was noted.

    Raises
    ------
    JobError
        The log cannot be read.
    """
    if not job.sculpt.file:
        return ()
    pulls = read_pulls(log_of(job))
    if not pulls:
        return ()
    lines = [f"{counted(len(pulls), 'pull')} on this buck so far."]
    best = best_pull(pulls)
    if best is not None:
        lines.append(f"Best so far: pull {best + 1}, {recipe(pulls[best])}.")
    if len(pulls) > 1:
        told = change_words(changes(pulls[-2], pulls[-1]))
        lines.append(f"Changed before the last: {told or 'nothing that was noted'}.")
    lines += _after_lines(pulls, settled(job))
    return tuple(lines)
