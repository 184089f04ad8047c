"""`set`: all parts of one costume or model, from one project file."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buckwright.cli.options import SuggestingCommand
from buckwright.cli.shared import DONE, FAILED, LOCKED, name_of, say, told_in_words

if TYPE_CHECKING:
    from buckwright.many.project.reading import Project
    from buckwright.many.project.running import SetDone

__all__ = ["make_set"]


@click.command(name="set", cls=SuggestingCommand)
@click.argument("project", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for the job sheet of the set.  [default: NAME_set]"
)
@click.option("--scheduler", metavar="ADDRESS", help="A Dask scheduler, as tcp://192.168.0.5:8786.")
@click.option("--workers", type=click.IntRange(1, 1024), help="Parts at once, at most.")
@click.option("--no-pictures", is_flag=True, help="Leave the pictures out.")
def make_set(
    project: Path, out: Path | None, scheduler: str | None, workers: int | None, no_pictures: bool
) -> None:
    """Make all parts of a costume or model: twins, sizes, common sheets and frames.

    PROJECT is a TOML file that names the parts and what they share. Every part gets a folder of its own; the
    set gets one job sheet and one cutting plan for all blanks. Parts that are done are not made again unless
    something about them has changed. Exit codes: 0 done, 1 some parts failed, 2 bad input, 3 done but some
    part cannot come off its buck, 130 stopped.
    """
    from buckwright.cli.progress import ProgressLine
    from buckwright.many.executor import executor_for
    from buckwright.many.project.reading import read_project
    from buckwright.many.project.running import run_set

    home = out or Path(f"{name_of(project)}_set")
    with told_in_words():
        asked = read_project(project)
        with ProgressLine() as line:
            done = run_set(
                asked,
                home,
                lambda: executor_for(scheduler, workers),
                pictures=not no_pictures,
                tell=lambda name, count, of: line(
                    f"{count} of {of} parts{', ' * bool(name)}{name}", count / of
                ),
            )
        code = _tell(asked, done, home)
    sys.exit(code)


def _tell(project: "Project", done: "SetDone", home: Path) -> int:
    """What came of it, and the exit code."""
    from buckwright.findings import counted
    from buckwright.many.project.running import SET_PAGE, SET_REPORT

    named = list(zip(project.parts, done.rows, strict=True))
    failed = [(part, row) for part, row in named if row.state == "failed"]
    locked = [part.title for part, row in named if row.releases is False]
    say(f"{project.name}: {counted(len(named) - len(failed), 'buck')} made, {len(failed)} failed.")
    for sheet in done.sheets:
        alone = f"; {sheet.alone} if cut part by part" if sheet.alone > sheet.together.count else ""
        count = counted(sheet.together.count, "sheet")
        say(f"{sheet.material} {sheet.thickness_mm:g} mm: {count} for {len(sheet.parts)} bucks{alone}.")
    say(f"{counted(len(done.frames), 'frame')}.")
    if locked:
        say(f"Locked on the buck: {', '.join(locked)}.")
    for part, row in failed:
        say(f"{part.title}: {row.wrong}", err=True)
    say(f"Written: {home}/ with {SET_PAGE}, {SET_REPORT}, a table and a folder for each part.")
    if failed:
        return FAILED
    return LOCKED if locked else DONE
