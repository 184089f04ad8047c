"""`batch` and `sweep`: many jobs at once."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buckwright.cli.options import SuggestingCommand, plain_value, tables_from, with_settings
from buckwright.cli.shared import DONE, FAILED, LOCKED, job_of, name_of, say, told_in_words

if TYPE_CHECKING:
    from buckwright.many.entries import Entry
    from buckwright.many.table import Row

__all__ = ["batch", "sweep"]

_COMMANDS = ("make", "look", "forecast")
_EXIT_CODES = """

    Jobs that are done are not run again unless their settings or their sculpt have changed. A job that fails
    stops no other; its error stands in the table. Exit codes: 0 done, 1 some jobs failed, 2 bad input, 3 done
    but some part cannot come off its buck, 130 stopped.
    """


def _working(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options of everything that works out many jobs."""
    for option in (
        click.option("--no-pictures", is_flag=True, help="Leave the pictures out."),
        click.option(
            "--scheduler",
            metavar="ADDRESS",
            help="A Dask scheduler that has the work done, as tcp://192.168.0.5:8786.",
        ),
        click.option(
            "--workers",
            type=click.IntRange(1, 1024),
            help="Jobs at once, at most.  [default: as many as processors and memory allow]",
        ),
        click.option(
            "--command",
            type=click.Choice(_COMMANDS),
            default="make",
            show_default=True,
            help="What to do with every job.",
        ),
    ):
        function = option(function)
    return function


def _out(shown: str) -> Callable[..., Any]:
    return click.option(
        "--out",
        type=click.Path(path_type=Path),
        help=f"Folder for the table and a folder for each job.  [default: {shown}]",
    )


@click.command(cls=SuggestingCommand)
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path))
@_out("NAME_batch")
@_working
@with_settings("make")
def batch(sources: Sequence[Path], out: Path | None, **words: Any) -> None:
    """Work out many jobs: job files, sculpts, or folders of them.

    Of a folder every job.toml below it is taken, or where there is none every sculpt in it. Settings that
    are given as options hold for all jobs.
    """
    from buckwright.many.entries import batch_entries

    home = out or Path(f"{name_of(sources[0])}_batch")
    how = {name: words.pop(name) for name in ("command", "scheduler", "workers", "no_pictures")}
    with told_in_words():
        code = _work_through(batch_entries(sources, tables_from(words)), home, **how)
    sys.exit(code)


@click.command(cls=SuggestingCommand)
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--vary",
    multiple=True,
    required=True,
    metavar="TABLE.KEY=VALUES",
    help="A setting and its values: base.riser_mm=8:24:4 or sheet.thickness_mm=0.5,0.75; can be given again.",
)
@_out("NAME_sweep")
@_working
@with_settings("make")
def sweep(source: Path, vary: Sequence[str], out: Path | None, **words: Any) -> None:
    """Work out a job in variants: every combination of the values given.

    LOW:HIGH:STEP is a range; values of several numbers have semicolons between them
    (pull.direction=z;0,0.1,1).
    """
    from buckwright.many.entries import sweep_entries
    from buckwright.many.varying import varied_from

    home = out or Path(f"{name_of(source)}_sweep")
    how = {name: words.pop(name) for name in ("command", "scheduler", "workers", "no_pictures")}
    with told_in_words():
        varied = [varied_from(words_of, plain_value) for words_of in vary]
        _refuse_unread(varied, how["command"])
        entries = sweep_entries(job_of(source, tables_from(words), sculpt=True), varied)
        code = _work_through(entries, home, **how)
    sys.exit(code)


for _command in (batch, sweep):
    assert _command.help is not None
    _command.help += _EXIT_CODES


def _refuse_unread(varied: Sequence[Any], command: str) -> None:
    """Refuse to vary what the command does not read: every variant would be the same."""
    from buckwright.errors import InputError
    from buckwright.pipeline.commands import COMMANDS, settings_for

    known = settings_for(COMMANDS[command])
    for one in varied:
        if one.name not in known:
            raise InputError(f"{one.name} changes nothing about '{command}'; choose another --command")


def _work_through(
    entries: "Sequence[Entry]",
    out: Path,
    *,
    command: str,
    scheduler: str | None,
    workers: int | None,
    no_pictures: bool,
) -> int:
    """Work out all entries with a line of progress; the exit code."""
    from buckwright.cli.progress import ProgressLine
    from buckwright.many.executor import executor_for
    from buckwright.many.running import Work, run_many

    work = Work(title=out.name, command=command, out=out, pictures=not no_pictures)
    executor = executor_for(scheduler, workers)
    with ProgressLine() as line:
        rows = run_many(
            entries,
            work,
            executor,
            tell=lambda name, done, of: line(f"{done} of {of} jobs{', ' * bool(name)}{name}", done / of),
        )
    _tell(rows, out)
    if any(row.state == "failed" for row in rows):
        return FAILED
    return LOCKED if any(row.releases is False for row in rows) else DONE


def _tell(rows: "Sequence[Row]", out: Path) -> None:
    """What came of it: how many are done, what failed and why, where the table is."""
    from buckwright.findings import counted
    from buckwright.many.running import PAGE, TABLE

    failed = [row for row in rows if row.state == "failed"]
    locked = [row for row in rows if row.releases is False]
    say(f"{counted(len(rows) - len(failed), 'job')} done, {len(failed)} failed.")
    if locked:
        say(f"Locked on the buck: {', '.join(row.name for row in locked)}.")
    for row in failed:
        say(f"{row.name}: {row.wrong}", err=True)
    say(f"Written: {out}/ with {PAGE}, {TABLE} and a folder for each job.")
