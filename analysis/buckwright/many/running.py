"""Run many jobs: what is done is left, what fails stops nothing, and a table is written at the end."""

import hashlib
import json
import math
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buckwright.errors import BuckwrightError
from buckwright.findings import counted
from buckwright.many.done import DoneBook, DoneJob, key_of
from buckwright.many.entries import Entry
from buckwright.many.executor import Executor
from buckwright.many.table import Row, csv_bytes, page_bytes
from buckwright.many.work import Product, Task
from buckwright.output.files import Batch, filled_by, refuse_unwritable
from buckwright.output.report import to_json
from buckwright.pipeline.commands import COMMANDS
from buckwright.pipeline.publishing import Places, report_name

__all__ = ["PAGE", "TABLE", "Work", "run_many"]

TABLE, PAGE = "table.csv", "table.html"

_EVERY_S = 5.0
"""The table is brought up to date no more often while jobs are under way. House rule."""

type Telling = Callable[[str, int, int], None]
"""Called with the name of the job that was done last, how many are done, and of how many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What is to be done with every job.

    Attributes
    ----------
    title : of the table
    command : name of one of `COMMANDS`
    out : folder; every job has a folder of its own in it
    pictures : whether to draw
    """

    title: str
    command: str
    out: Path
    pictures: bool = True


def run_many(
    entries: Sequence[Entry],
    work: Work,
    executor: Executor,
    *,
    tell: Telling = lambda *_: None,
    took: Callable[[Row], None] = lambda _row: None,
) -> list[Row]:
    """Run jobs.

    Parameters
    ----------
    entries : no two of the same name
    work : see `Work`
    executor : who works them out
    tell : hears how far it is
    took : hears what came of each job that is run now

    Returns
    -------
    One row for each entry, in their order.

    Raises
    ------
    OutputError
        Results cannot be written. Jobs that are done stay done.
    KeyboardInterrupt
        The user stopped; jobs that are done stay done, and the table says which.
    """
    refuse_unwritable(work.out)
    book = DoneBook(work.out, work.command)
    rows = {entry.name: Row(entry.name, "waiting", entry.varied) for entry in entries}
    tasks = _left_to_do(entries, work, book, rows)
    count, table = len(entries) - len(tasks), _Table(work, rows)
    tell("", count, len(entries))
    products = executor.run([task for task, _ in tasks.values()])
    try:
        for product in products:
            key = tasks[product.name][1]
            rows[product.name] = _taken_in(product, work, book, key, rows[product.name])
            count += 1
            table.keep()
            took(rows[product.name])
            tell(product.name, count, len(entries))
    except BaseException:
        _catch_up(tasks, work, rows)
        with suppress(BuckwrightError):
            table.write()
        raise
    finally:
        if hasattr(products, "close"):
            products.close()
    table.write()
    return list(rows.values())


class _Table:
    """The table on the disk; whatever ends the work, it is never far behind."""

    def __init__(self, work: Work, rows: Mapping[str, Row]) -> None:
        self._work, self._rows, self._written_s = work, rows, -math.inf

    def keep(self) -> None:
        """Write it, unless that was done a moment ago."""
        if time.monotonic() - self._written_s > _EVERY_S:
            self.write()

    def write(self) -> None:
        """Write it as things stand; nothing while nothing has come of any job."""
        rows = list(self._rows.values())
        if any(row.state != "waiting" for row in rows):
            _write_table(self._work, rows)
            self._written_s = time.monotonic()


def _left_to_do(
    entries: Sequence[Entry], work: Work, book: DoneBook, rows: dict[str, Row]
) -> dict[str, tuple[Task, str]]:
    """Tasks with their keys, by name; the rows of those that need none are filled in."""
    left: dict[str, tuple[Task, str]] = {}
    for entry in entries:
        if entry.job is None:
            rows[entry.name] = Row(entry.name, "failed", entry.varied, wrong=entry.wrong)
            continue
        key = key_of(work.command, entry.job, pictures=work.pictures)
        done = book.find(entry.name, key)
        if done is None:
            left[entry.name] = Task(entry.name, work.command, entry.job, work.pictures), key
        else:
            report = book.report(entry.name)
            rows[entry.name] = _done_row(rows[entry.name], report, done.releases, work.command)
    return left


def _catch_up(tasks: Mapping[str, tuple[Task, str]], work: Work, rows: dict[str, Row]) -> None:
    """Rows of jobs that are noted as done: a stop may have come between the note and the row."""
    book = DoneBook(work.out, work.command)
    for name, (_, key) in tasks.items():
        done = book.find(name, key) if rows[name].state == "waiting" else None
        if done is not None:
            rows[name] = _done_row(rows[name], book.report(name), done.releases, work.command)


def _taken_in(product: Product, work: Work, book: DoneBook, key: str, row: Row) -> Row:
    """Publish what came of a job, and note it."""
    name = report_name(work.command)
    if product.releases is None:
        return Row(row.name, "failed", row.varied, wrong=product.wrong)
    files = dict(product.files)
    report: dict[str, Any] = json.loads(files.pop(name))
    try:
        Places(work.command, work.out / product.name).write(files, report, dict, None)
    except BuckwrightError as error:
        return Row(row.name, "failed", row.varied, wrong=str(error))
    digest = hashlib.sha256(to_json(report).encode()).hexdigest()
    book.add(DoneJob(product.name, key, digest, product.releases, round(product.seconds, 3)))
    return _done_row(row, report, product.releases, work.command)


def _done_row(row: Row, report: dict[str, Any], releases: bool, command: str) -> Row:
    judged = releases if COMMANDS[command].judged_by else None
    return Row(row.name, "done", row.varied, report, judged)


def _write_table(work: Work, rows: Sequence[Row]) -> None:
    failed = sum(row.state == "failed" for row in rows)
    waiting = sum(row.state == "waiting" for row in rows)
    lead = f"{counted(len(rows) - failed - waiting, 'job')} done, {failed} failed"
    lead += f", {waiting} not done yet." if waiting else "."
    with Batch(work.out) as batch:
        batch.add(TABLE, filled_by(csv_bytes(rows)))
        batch.add(PAGE, filled_by(page_bytes(work.title, rows, lead=lead)))
