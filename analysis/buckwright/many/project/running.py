"""Work out a set: every part by itself, then what they share; goes on where it was stopped."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from buckwright.errors import InputError
from buckwright.many.entries import Entry
from buckwright.many.executor import Executor
from buckwright.many.project.page import set_page
from buckwright.many.project.planning import FrameOf, SharedSheet, common_frame, frames_of, sheets_of
from buckwright.many.project.reading import Project, SetPart
from buckwright.many.running import Telling, Work, run_many
from buckwright.many.table import Row
from buckwright.output.files import Batch, filled_by
from buckwright.output.report import to_json

__all__ = ["SET_PAGE", "SET_REPORT", "SetDone", "run_set"]

SET_PAGE, SET_REPORT = "set.html", "set.json"
_SIZES = "sizes"


@dataclass(frozen=True, slots=True)
class SetDone:
    """What came of a set.

    Attributes
    ----------
    rows : one for each part, in the order of the project
    sheets : what blanks are cut from
    frames : what holds the blanks
    """

    rows: tuple[Row, ...]
    sheets: tuple[SharedSheet, ...]
    frames: tuple[FrameOf, ...]


def run_set(
    project: Project,
    out: Path,
    executor: Callable[[], Executor],
    *,
    pictures: bool = True,
    tell: Telling = lambda *_: None,
) -> SetDone:
    """Work out a set.

    Parameters
    ----------
    project : its parts
    out : folder for the job sheet, and a folder for each part
    executor : makes who works parts out
    pictures : whether to draw
    tell : hears how far it is

    Returns
    -------
    SetDone

    Raises
    ------
    InputError
        One frame is asked for and cannot be chosen.
    OutputError
        Results cannot be written. Parts that are done stay done.
    KeyboardInterrupt
        The user stopped; parts that are done stay done.
    """
    if project.one_frame:
        project = _in_one_frame(project, out, executor(), tell)
    work = Work(title=project.name, command="make", out=out, pictures=pictures)
    entries = [Entry(part.name, part.job) for part in project.parts]
    rows = run_many(entries, work, executor(), tell=tell)
    done = list(zip(project.parts, rows, strict=True))
    reports = [(part, row.report) for part, row in done if row.state == "done"]
    sheets, frames = sheets_of(reports), frames_of(reports)
    report = {
        "name": project.name,
        "number": project.number,
        "parts": [_entry(part, row) for part, row in done],
        "frames": [{"opening_mm": frame.opening_mm, "parts": list(frame.parts)} for frame in frames],
        "sheets": [sheet.to_dict() for sheet in sheets],
    }
    page = set_page(project, done, sheets, frames)
    with Batch(out) as batch:
        batch.add(SET_REPORT, filled_by(to_json(report).encode()))
        batch.add(SET_PAGE, filled_by(page))
    return SetDone(tuple(rows), tuple(sheets), tuple(frames))


def _entry(part: SetPart, row: Row) -> dict[str, object]:
    return {
        "title": part.title,
        "folder": part.name,
        "count": part.count,
        "twin_of": part.twin_of or None,
        "wanted_mm": part.wanted_mm,
        "state": row.state,
        "releases": row.releases,
        "error": row.wrong or None,
    }


def _in_one_frame(project: Project, out: Path, executor: Executor, tell: Telling) -> Project:
    """The parts with one frame named for all: their bucks are made without a forecast to see their sizes."""
    named = [
        Entry(part.name, part.job.evolved(forecast={"quality": "off"}, vents={"enabled": False}))
        for part in project.parts
    ]
    work = Work(title="sizes", command="make", out=out / _SIZES, pictures=False)
    rows = run_many(named, work, executor, tell=tell)
    done = [
        (part, row.report)
        for part, row in zip(project.parts, rows, strict=True)
        if row.state == "done" and row.report.get("buck")
    ]
    if not done:
        raise InputError(f"no part could be made, so no frame can be chosen: {rows[0].wrong}")
    frame = list(common_frame(done))
    parts = (replace(part, job=part.job.evolved(forecast={"frame_mm": frame})) for part in project.parts)
    return replace(project, parts=tuple(parts))
