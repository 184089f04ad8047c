"""What the commands share: a job from what was typed, errors in words, exit codes."""

import errno
import sys
from pathlib import Path
from typing import Any

import click

from buckwright.cli.options import error_json
from buckwright.errors import BuckwrightError, InputError

__all__ = ["DONE", "FAILED", "LOCKED", "STOPPED", "job_of", "name_of", "say", "told_in_words"]

DONE, FAILED, BAD_INPUT, LOCKED, STOPPED = 0, 1, 2, 3, 130


def name_of(source: Path) -> str:
    """What results are called after: most job files are called job.toml; their folder says more."""
    return source.resolve().parent.name if source.name.lower() == "job.toml" else source.stem


def say(words: str, *, err: bool = False) -> None:
    """Print words that may hold a name from outside."""
    from buckwright.mesh.bounds import printable

    click.echo(printable(words), err=err)


class told_in_words:  # noqa: N801  (read as a clause: with told in words)
    """Translate errors into words on stderr and an exit code; for a program also into JSON on stdout."""

    def __init__(self, *, as_json: bool = False) -> None:
        self._as_json = as_json

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: Any, error: BaseException | None, trace: Any) -> None:
        from buckwright.errors import Cancelled, OutputError
        from buckwright.mesh.bounds import shown

        if isinstance(error, KeyboardInterrupt | Cancelled):
            click.echo("Stopped; results are complete or as they were before.", err=True)
            sys.exit(STOPPED)
        if isinstance(error, OSError) and not isinstance(error, BuckwrightError):
            if error.errno == errno.EPIPE:
                return  # click knows what to do when nobody reads on
            error = OutputError(f"{shown(error.filename or 'a file')}: {error.strerror or error}")
        if isinstance(error, BuckwrightError):
            code = BAD_INPUT if isinstance(error, InputError | OSError) else FAILED
            if self._as_json:
                click.echo(error_json(type(error).__name__, str(error), code))
            say(f"buckwright: {error}", err=True)
            sys.exit(code)


def job_of(source: Path, tables: dict[str, dict[str, Any]], *, sculpt: bool) -> Any:
    """The job file with the command line's settings over it, or a quick job for a sculpt."""
    from buckwright.job import Job, job_from, name_after
    from buckwright.job.files import read_tables, renamed_keys

    if not sculpt:
        return Job().evolved(job={"name": name_after(source)}, **tables)
    if source.suffix.lower() != ".toml":
        quick = Job(sculpt={"file": str(source)}, job={"name": name_after(source)})
        return quick.evolved(**tables)
    raw = read_tables(source)
    for line in renamed_keys(raw):
        say(f"{source}: {line}", err=True)
    return job_from(raw, where=str(source), folder=source.parent).evolved(**tables)
