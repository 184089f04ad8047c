"""Writing a pull down: where the log of a job stands, and what is noted by itself. Imports nothing heavy."""

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from buckwright.errors import JobError
from buckwright.job import Job
from buckwright.workshop.log.book import append_pull, log_path
from buckwright.workshop.log.record import record_from

__all__ = ["log_of", "note_pull"]


def log_of(job: Job) -> Path:
    """Where the pulls of a job stand: beside the job file, after its sculpt.

    Raises
    ------
    JobError
        The job names no sculpt's file.
    """
    if not job.sculpt.file:
        raise JobError("a log stands beside a job or a sculpt's file; this job has its sculpt in memory")
    return log_path(job.folder, job.sculpt.file)


def note_pull(job: Job, values: Mapping[str, Any], *, path: Path | None = None) -> int:
    """Add a pull to the log of a job; the sheet is the job's and the moment is now unless it is given.

    Parameters
    ----------
    job : settings
    values : by key of the record
    path : of the log; None for that of the job

    Returns
    -------
    int : number of the pull

    Raises
    ------
    JobError
        A value cannot be used, or the log that is there cannot be read.
    OutputError
        It cannot be written.
    """
    now = datetime.datetime.now().astimezone().isoformat(sep=" ", timespec="minutes")
    usual = {"date": now, "material": job.sheet.material, "thickness_mm": job.sheet.thickness_mm}
    return append_pull(log_of(job) if path is None else path, record_from(usual | dict(values)))
