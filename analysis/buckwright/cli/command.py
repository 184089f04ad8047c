"""The command `buckwright`."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from buckwright import __version__
from buckwright.cli.many import batch, sweep
from buckwright.cli.options import (
    SuggestingCommand,
    SuggestingGroup,
    tables_from,
    with_record,
    with_settings,
)
from buckwright.cli.set import make_set
from buckwright.cli.shared import DONE, LOCKED, job_of, name_of, say, told_in_words
from buckwright.cli.tune import tune
from buckwright.errors import InputError

__all__ = ["main"]

_FIRST_STEPS = """\
From a sculpt to a ready-to-print buck for vacuum forming.

  buckwright look mask.stl          what locks, what is too steep: maps and pictures
  buckwright make mask.stl          the buck: STL, 3MF, report, pictures
  buckwright start mask.stl         write a job.toml for it, every setting explained
  buckwright make job.toml          the buck of a job file
  buckwright gaps job.toml          how wide the frame should be: thickness against sheet
  buckwright halves horn.stl        two halves of a sculpt that locks in one piece
  buckwright batch FOLDER           all jobs of a folder, several at once, and a table
  buckwright sweep job.toml --vary sheet.thickness_mm=0.5,0.75,1
                                    a job in variants, side by side
  buckwright set project.toml       all parts of a costume or model: twins, sizes, one cutting plan
  buckwright tune job.toml          better settings, searched for and compared
  buckwright open                   look at the newest pictures

  buckwright log job.toml           note a pull, and what to try next

  buckwright sheets                 which sheets are known, with sources
  buckwright machines               which machines are known
  buckwright explain SLUG           what a finding means and what can be done
  buckwright settings               everything that can be set

'buckwright COMMAND --help' tells the rest.
"""


@click.group(
    cls=SuggestingGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    invoke_without_command=True,
)
@click.version_option(__version__)
@click.pass_context
def main(context: click.Context) -> None:
    """From a sculpt to a ready-to-print buck for vacuum forming."""
    if context.invoked_subcommand is None:
        click.echo(_FIRST_STEPS, nl=False)


main.add_command(batch)
main.add_command(sweep)
main.add_command(tune)
main.add_command(make_set)


def _running(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options that every command has that works something out."""
    for option in (
        click.option("--open", "and_open", is_flag=True, help="Open the main picture when it is done."),
        click.option("--no-pictures", is_flag=True, help="Leave the pictures out."),
        click.option("--json", "as_json", is_flag=True, help="Print report.json instead of the summary."),
    ):
        function = option(function)
    return function


def _out(shown: str) -> Callable[..., Any]:
    return click.option(
        "--out", type=click.Path(path_type=Path), help=f"Folder for the results.  [default: {shown}]"
    )


_SOURCE = click.argument("source", type=click.Path(path_type=Path))


@main.command(name="make", cls=SuggestingCommand)
@_SOURCE
@_out("NAME_buck")
@_running
@with_settings("make")
def make_command(source: Path, out: Path | None, **words: Any) -> None:
    """Make the buck of a sculpt, or of a job.toml.

    Exit codes: 0 done, 2 bad input, 3 done but the part cannot come off the buck as it stands.
    """
    _run("make", source, out or Path(f"{name_of(source)}_buck"), words)


@main.command(name="look", cls=SuggestingCommand)
@_SOURCE
@_out("NAME_look")
@_running
@with_settings("look")
def look_command(source: Path, out: Path | None, **words: Any) -> None:
    """Survey a sculpt or the sculpt of a job.toml: findings, maps and pictures; nothing is made.

    Exit codes: 0 done, 2 bad input, 3 the part would lock on the sculpt as it is.
    """
    _run("look", source, out or Path(f"{name_of(source)}_look"), words)


@main.command(name="forecast", cls=SuggestingCommand)
@_SOURCE
@_out("NAME_forecast")
@_running
@with_settings("forecast")
def forecast_command(source: Path, out: Path | None, **words: Any) -> None:
    """Forecast the sheet on the buck that a sculpt or a job.toml would get; the buck is not written.

    How thin the sheet gets and where, what it touches last, where it traps air and where webs fold.
    """
    _run("forecast", source, out or Path(f"{name_of(source)}_forecast"), words)


@main.command(name="gaps", cls=SuggestingCommand)
@_SOURCE
@_out("NAME_gaps")
@_running
@with_settings("gaps")
def gaps_command(source: Path, out: Path | None, **words: Any) -> None:
    """Forecast several gaps between buck and frame, and weigh thickness and webs against sheet and cost.

    Writes gaps.csv and gaps.svg. Takes as long as five quick forecasts; the buck is not written.
    """
    _run("gaps", source, out or Path(f"{name_of(source)}_gaps"), words)


@main.command(name="halves", cls=SuggestingCommand)
@_SOURCE
@_out("NAME_halves")
@_running
@with_settings("halves")
def halves_command(source: Path, out: Path | None, **words: Any) -> None:
    """Part a sculpt that locks by a plane into two halves, each for a buck of its own.

    Up to three planes are found and shown; --halves-plane takes another. Writes each half as a sculpt with a
    job file; 'buckwright make' makes their bucks.
    """
    _run("halves", source, out or Path(f"{name_of(source)}_halves"), words)


@main.command(name="forecast-on", cls=SuggestingCommand)
@click.argument("buck", type=click.Path(path_type=Path))
@click.option("--unit", type=click.Choice(["mm", "cm", "m", "in"]), help="Unit of the file.")
@_out("NAME_forecast")
@_running
@with_settings("forecast-on")
def forecast_on_command(buck: Path, unit: str | None, out: Path | None, **words: Any) -> None:
    """Forecast the sheet on a finished buck: a mesh with the pull along +z."""
    from buckwright.api import load, standing_buck
    from buckwright.shape.base.building import Blank

    def given() -> dict[str, Any]:
        return {"blank": Blank(None, None, given=standing_buck(load(buck, unit=unit)))}

    _run("forecast-on", buck, out or Path(f"{name_of(buck)}_forecast"), words, given=given)


@main.command(cls=SuggestingCommand)
@_SOURCE
@click.option(
    "--out", type=click.Path(path_type=Path), help="The file.  [default: job.toml beside the sculpt]"
)
@click.option("--force", is_flag=True, help="Replace a file that is there.")
@click.option("--sample", is_flag=True, help="Begin with a small sculpt that comes along, written to SOURCE.")
def start(source: Path, out: Path | None, force: bool, sample: bool) -> None:
    """Write a job.toml for a sculpt, with every setting explained in it."""
    from buckwright.cli.start import start_job, write_sample

    with told_in_words():
        if sample:
            write_sample(source, force=force)
        path, words = start_job(source, out, force=force)
        say(words)
        say(f"Next: buckwright look {path}")


@main.command(name="log", cls=SuggestingCommand)
@_SOURCE
@click.option(
    "--keep-bias",
    is_flag=True,
    help="Write the mean of measured over forecast thickness into your own machine's table.",
)
@with_record
def log_command(source: Path, keep_bias: bool, **noted: Any) -> None:
    """Note a pull beside a job, and say what to try next; without anything to note only say it.

    Seconds count from the start of heating; marks go from 0 to 3. One thing at a time is suggested.
    """
    with told_in_words():
        from buckwright.cli.log_page import log_page
        from buckwright.pipeline.pull_log import keep_bias as keep
        from buckwright.pipeline.pull_log import view_log
        from buckwright.pipeline.pull_notes import log_of, note_pull

        job = job_of(source, {}, sculpt=True)
        values = {key: value for key, value in noted.items() if value is not None}
        if values:
            say(f"Noted as pull {note_pull(job, values)}.")
        if keep_bias:
            path, ratio = keep(job)
            say(f"Kept in {path}: thickness_bias = {ratio:.3f}.")
        say(log_page(view_log(job), where=str(log_of(job))).removesuffix("\n"))


@main.command(cls=SuggestingCommand)
@click.argument("material", required=False)
@click.option("--example", is_flag=True, help="Print a file of own sheets to begin with.")
def sheets(material: str | None, example: bool) -> None:
    """List the sheets that are known; of one, all data with their sources.

    Sheets of your own stand in a file of yours; the list says where, and what is wrong with it if it cannot
    be used.
    """
    from buckwright.cli.pages import sheet_page, sheets_page
    from buckwright.forming.sheets.own import EXAMPLE

    with told_in_words():
        if example:
            click.echo(EXAMPLE, nl=False)
        else:
            say((sheets_page() if material is None else sheet_page(material)).removesuffix("\n"))


@main.command(cls=SuggestingCommand)
@click.argument("machine", required=False)
@click.option("--example", is_flag=True, help="Print a file of own machines to begin with.")
def machines(machine: str | None, example: bool) -> None:
    """List the machines that are known; of one, all figures.

    Machines of your own stand in a file of yours; the list says where, and what is wrong with it if it cannot
    be used.
    """
    from buckwright.cli.pages import machine_page, machines_page
    from buckwright.workshop.machine.own import EXAMPLE

    with told_in_words():
        if example:
            click.echo(EXAMPLE, nl=False)
        else:
            say((machines_page() if machine is None else machine_page(machine)).removesuffix("\n"))


@main.command(cls=SuggestingCommand)
@click.argument("slug", required=False)
def explain(slug: str | None) -> None:
    """Say what a finding means: why it matters, the rule and its source, what can be done."""
    from buckwright.cli.pages import finding_page, findings_page

    with told_in_words():
        click.echo(findings_page() if slug is None else finding_page(slug), nl=False)


@main.command(cls=SuggestingCommand)
@click.argument("table", required=False)
def settings(table: str | None) -> None:
    """List everything that can be set, as keys of job.toml; as flags they are --TABLE-KEY."""
    from buckwright.cli.pages import settings_page

    with told_in_words():
        click.echo(settings_page(table), nl=False)


@main.command(name="open", cls=SuggestingCommand)
@click.argument("folder", type=click.Path(path_type=Path), required=False)
def open_command(folder: Path | None) -> None:
    """Open the main picture of a folder of results, or of the newest one below this folder."""
    from buckwright.cli.pages import newest_results

    with told_in_words():
        found = folder or newest_results(Path())
        if found is None:
            raise InputError("there are no results below this folder; run 'buckwright make' or name a folder")
        _open(found)


def _run(
    command: str,
    source: Path,
    out: Path,
    words: dict[str, Any],
    *,
    given: Callable[[], dict[str, Any]] | None = None,
) -> None:
    """Run with a progress bar on stderr; print the summary or the report."""
    as_json, no_pictures, and_open = (words.pop(name) for name in ("as_json", "no_pictures", "and_open"))
    with told_in_words(as_json=as_json):
        from buckwright.cli.progress import ProgressLine
        from buckwright.pipeline.run import run

        job = job_of(source, tables_from(words), sculpt=given is None)
        with ProgressLine() as line:
            outcome = run(
                command,
                job,
                out,
                progress=line,
                pictures=not no_pictures,
                given=None if given is None else given(),
            )
        if as_json:
            from buckwright.output.report import to_json

            click.echo(to_json(outcome.report), nl=False)
        else:
            from rich.console import Console

            from buckwright.output.summary import show_summary

            show_summary(outcome.summary, Console())
        if and_open:
            _open(out)
    sys.exit(DONE if outcome.releases else LOCKED)


def _open(folder: Path) -> None:
    from buckwright.cli.pages import main_picture

    picture = main_picture(folder)
    if picture is None:
        raise InputError(f"{folder} holds no pictures; run without --no-pictures")
    say(f"opening {picture}")
    if click.launch(str(picture)):
        raise InputError(f"no program to show pictures was found; the picture is {picture}")
