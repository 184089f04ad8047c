"""`tune`: better settings of a job, searched for among a few choices."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buckwright.cli.options import SuggestingCommand, plain_value, tables_from, with_settings
from buckwright.cli.shared import DONE, job_of, name_of, say, told_in_words

if TYPE_CHECKING:
    from buckwright.many.tuning import Tuned

__all__ = ["tune"]

_SHOWN = 3


@click.command(cls=SuggestingCommand)
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--vary",
    multiple=True,
    metavar="TABLE.KEY=VALUES",
    help="A setting that may change, instead of the usual ones: base.riser_mm=8,12,20; can be given again.",
)
@click.option(
    "--variants",
    type=click.IntRange(2, 500),
    default=24,
    show_default=True,
    help="Variants to try, at most.",
)
@click.option(
    "--least-mm",
    type=click.FloatRange(0.0, 20.0),
    help="Wanted thickness of the weakest spot.  [default: 0.3]",
)
@click.option("--take", type=int, metavar="N", help="Write a job file with the changes of variant N.")
@click.option(
    "--to", type=click.Path(path_type=Path), help="That job file.  [default: NAME_tuned.toml beside the job]"
)
@click.option("--force", is_flag=True, help="Replace that job file if it is there.")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for table and page.  [default: NAME_tune]"
)
@click.option("--scheduler", metavar="ADDRESS", help="A Dask scheduler, as tcp://192.168.0.5:8786.")
@click.option("--workers", type=click.IntRange(1, 1024), help="Variants at once, at most.")
@with_settings("make")
def tune(
    source: Path, out: Path | None, take: int | None, to: Path | None, *, force: bool, **words: Any
) -> None:
    """Try variants of a job and compare them with the job as it is set; nothing of the job is changed.

    Left to itself it varies the setup (where the pull is searched for), riser, gap to the frame, gauge and
    fill, at preview quality; the sink too where the pull is fixed and the sculpt can be sunk otherwise; radii
    of the base and take-up blocks where webs cross the trim line or the part is too thin. It can be stopped
    at any time: the best so far is written, and the next run goes on from there. --take N then writes a job
    file with a comment beside each change.
    """
    home = out or Path(f"{name_of(source)}_tune")
    with told_in_words():
        if take is None:
            _tell(_search(source, home, words), home)
        else:
            _take(source, home, take, to, force=force)
    sys.exit(DONE)


def _search(source: Path, home: Path, words: dict[str, Any]) -> "Tuned":
    from buckwright.cli.progress import ProgressLine
    from buckwright.forming.forecast.thresholds import HANDY_MM
    from buckwright.many.choices import own_first
    from buckwright.many.executor import executor_for
    from buckwright.many.tuning import PAGE
    from buckwright.many.tuning import tune as search
    from buckwright.many.varying import varied_from

    how = {name: words.pop(name) for name in ("vary", "variants", "least_mm", "scheduler", "workers")}
    tables = tables_from(words)
    tables.setdefault("forecast", {}).setdefault("quality", "preview")
    job = job_of(source, tables, sculpt=True)
    asked = [own_first(varied_from(one, plain_value), job) for one in how["vary"]]
    least = HANDY_MM if how["least_mm"] is None else how["least_mm"]
    with ProgressLine() as line:
        try:
            return search(
                job,
                asked or None,
                home,
                executor_for(how["scheduler"], how["workers"]),
                count=how["variants"],
                least_mm=least,
                tell=lambda name, done, of: line(
                    f"{done} of {of} in this round{', ' * bool(name)}{name}", done / of
                ),
            )
        except KeyboardInterrupt:
            if (home / PAGE).exists():
                say(f"The best so far is in {home}/{PAGE}; the same command goes on from there.", err=True)
            raise


def _tell(found: "Tuned", home: Path) -> None:
    for n, one in enumerate(found.ranked[:_SHOWN], 1):
        say(f"{n}. {found.titles[one.name]}")
        say(f"   {one.words}")
        if one.faults:
            say(f"   Faults: {'; '.join(one.faults)}.")
    if found.ranked[0].name == found.own.name:
        say("No variant is better than the job as it is set without being worse elsewhere.")
    if found.left:
        say(found.left)
    say(f"Written: {home}/ with tune.html, tune.csv; --take N writes a job file.")


def _take(source: Path, home: Path, number: int, to: Path | None, *, force: bool) -> None:
    from buckwright.errors import InputError
    from buckwright.many.taking import changed_job
    from buckwright.many.tuning import read_chosen
    from buckwright.output.files import write_safely

    if source.suffix.lower() != ".toml":
        raise InputError("a sculpt has no job file to change; write one with 'buckwright start'")
    chosen = read_chosen(home, number)
    target = to or source.with_name(f"{source.stem}_tuned.toml")
    if target.resolve() == source.resolve():
        raise InputError(f"{target} is the job itself, which stays as it is; name another file with --to")
    if target.exists() and not force:
        raise InputError(f"{target} is there already; choose another with --to, or replace it with --force")
    if target.resolve().parent != source.resolve().parent:
        raise InputError("the sculpt is found from the folder of the job: write the new one into the same")
    text = changed_job(source, chosen["changes"], why=f"Variant {number} of a search. {chosen['words']}")
    write_safely(target, lambda file: file.write(text.encode()))
    say(f"Written: {target}, with a comment beside each change.")
