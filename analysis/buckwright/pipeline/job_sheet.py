"""The job sheet of a run: words of the job beside the figures of its report."""

from collections.abc import Mapping, Sequence
from typing import Any

from buckwright.pipeline.commands import Command, releases
from buckwright.stage import Told

__all__ = ["drawn_sheet"]


def drawn_sheet(
    command: Command,
    told: Told,
    answers: Sequence[tuple[str, str]],
    report: Mapping[str, Any],
    files: Mapping[str, bytes],
    prefix: str = "",
) -> bytes:
    """Write the job sheet.

    Parameters
    ----------
    command : what was run
    told : job and results
    answers : questions and answers that the summary leads with
    report : the tree of report.json
    files : of the run, by name with the prefix; its pictures are put in
    prefix : what their names begin with

    Returns
    -------
    bytes : HTML
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
    )
    pictures = {name.removeprefix(prefix): data for name, data in files.items() if name.endswith(".png")}
    return job_sheet_html(words, report, pictures)
