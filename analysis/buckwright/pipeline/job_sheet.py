"""The job sheet of a run: words of the job beside the figures of its report."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any

from buckwright.errors import JobError
from buckwright.pipeline.commands import Command, releases
from buckwright.pipeline.publishing import hashes_of
from buckwright.stage import Told

__all__ = ["add_job_sheet"]


def add_job_sheet(
    command: Command,
    told: Told,
    answers: Sequence[tuple[str, str]],
    report: Mapping[str, Any],
    files: dict[str, bytes],
    *,
    prefix: str = "",
) -> None:
    """Put the job sheet among the files of a run, and its hash into the report.

    Parameters
    ----------
    command : what was run
    told : job and results
    answers : questions and answers that the summary leads with
    report : the tree of report.json; its `files` gain an entry
    files : by name with the prefix; pictures among them are put into the sheet
    prefix : what the names of the files begin with
    """
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.output.job_sheet.page import JobWords, job_sheet_html

    job = told.job
    words = JobWords(
        title=told.title,
        number=job.job.number,
        story=job.job.story,
        sheet=f"{material_of(job.sheet.material).title}, {job.sheet.thickness_mm:g} mm",
        outcome=command.outcomes[releases(command, told.results)],
        answers=answers,
        pulls=_pulls(job),
    )
    pictures = {name.removeprefix(prefix): data for name, data in files.items() if name.endswith(".png")}
    sheet = {f"{prefix}job_sheet.html": job_sheet_html(words, report, pictures)}
    files.update(sheet)
    report["files"].update(hashes_of(sheet))


def _pulls(job: Any) -> tuple[str, ...]:
    """What the log beside the job tells; nothing where there is none, or it cannot be read."""
    from buckwright.pipeline.pull_log import log_lines

    with suppress(JobError):
        return log_lines(job)
    return ()
