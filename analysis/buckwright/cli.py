"""The command `buckwright`."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from buckwright import __version__
from buckwright.errors import BuckwrightError, Cancelled, InputError
from buckwright.job import Job, job_from, read_job
from buckwright.mesh.reading import read_sculpt
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.units import mm_per
from buckwright.output.report import to_json
from buckwright.output.summary import show_summary
from buckwright.pipeline import Outcome, forecast, forecast_on, look, make

__all__ = ["main"]

_DONE, _FAILED, _BAD_INPUT, _LOCKED = 0, 1, 2, 3

_OPTIONS: list[tuple[str, tuple[str, str], dict[str, Any]]] = [
    (
        "--unit",
        ("sculpt", "unit"),
        {"type": click.Choice(["mm", "cm", "m", "in"]), "help": "Unit of the file."},
    ),
    ("--height", ("sculpt", "height_mm"), {"type": float, "help": "Scale to this height (file's z), mm."}),
    ("--width", ("sculpt", "width_mm"), {"type": float, "help": "Scale to this width (file's x), mm."}),
    ("--depth", ("sculpt", "depth_mm"), {"type": float, "help": "Scale to this depth (file's y), mm."}),
    ("--material", ("sheet", "material"), {"help": "Sheet: HIPS, PETG, ABS, PVC, ..."}),
    ("--sheet", ("sheet", "thickness_mm"), {"type": float, "help": "Thickness of the sheet, mm."}),
    ("--pull", ("pull", "direction"), {"help": "search, x, y, z, -x, -y, -z or three numbers 'x,y,z'."}),
    (
        "--cone",
        ("pull", "cone_deg"),
        {"type": float, "help": "Search within this angle of the file's z, degrees."},
    ),
    ("--draft", ("draft", "wanted_deg"), {"type": float, "help": "Wanted draft, degrees."}),
    (
        "--fill",
        ("fill", "mode"),
        {
            "type": click.Choice(["full", "locked", "none"]),
            "help": "Fill under all overhangs, only those that lock the part, or none.",
        },
    ),
    (
        "--keep-tight",
        ("fill", "keep_tight"),
        {
            "is_flag": True,
            "default": None,
            "help": "Leave faces with some draft, but less than wanted, as they are.",
        },
    ),
    ("--sink", ("base", "sink_mm"), {"help": "Sink the sculpt by so many mm, or to its 'widest' outline."}),
    ("--riser", ("base", "riser_mm"), {"type": float, "help": "Height of the riser under the sculpt, mm."}),
    (
        "--footprint",
        ("base", "footprint"),
        {"type": click.Choice(["outline", "rectangle", "circle"]), "help": "Shape of the flange."},
    ),
    (
        "--size-of",
        ("fit", "controlled_side"),
        {"type": click.Choice(["inside", "outside"]), "help": "Side of the sheet that must hold its size."},
    ),
    ("--name", ("job", "name"), {"help": "Name, engraved on the underside."}),
    ("--number", ("job", "number"), {"help": "Job number, engraved too."}),
]


_SHEET_OPTIONS: list[tuple[str, tuple[str, str], dict[str, Any]]] = [
    ("--frame", ("forecast", "frame_mm"), {"help": "Inside of the clamp frame, mm, for example 240x180."}),
    ("--gap", ("forecast", "gap_mm"), {"type": float, "help": "Room between buck and frame instead, mm."}),
    ("--nodes", ("forecast", "nodes"), {"type": int, "help": "Nodes of the sheet in a fine forecast."}),
    (
        "--quality",
        ("forecast", "quality"),
        {"type": click.Choice(["preview", "fine"]), "default": "fine", "show_default": True},
    ),
    ("--model", ("forecast", "model"), {"type": click.Choice(["membrane", "geometric"])}),
    ("--law", ("forecast", "law"), {"type": click.Choice(["neo-Hookean", "Mooney-Rivlin"])}),
    (
        "--sag",
        ("forecast", "sag_mm"),
        {"type": float, "help": "How far the hot sheet hangs in its frame, mm."},
    ),
    (
        "--friction",
        ("forecast", "friction"),
        {"type": float, "help": "Coulomb friction of the sheet on the buck, 0 to 2; sticks if left out."},
    ),
    (
        "--tallest",
        ("forecast", "tallest_mm"),
        {"type": float, "help": "Greatest height that the machine takes, mm."},
    ),
    (
        "--compare-gaps",
        ("forecast", "compare_gaps"),
        {"is_flag": True, "default": None, "help": "Compare several gaps to the frame."},
    ),
]

_LOOKING = ("sculpt", "sheet", "pull", "draft", "fit")
"""Tables that matter when nothing is made; and the sink, which says where the sculpt ends."""


def _with_options(
    *, looking: bool = False, forecasting: bool = False
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Add the settings that a command takes."""

    def add(command: Callable[..., Any]) -> Callable[..., Any]:
        for flag, (table, key), settings in reversed([*(_SHEET_OPTIONS if forecasting else ()), *_OPTIONS]):
            if not looking or table in (*_LOOKING, "forecast") or key == "sink_mm":
                command = click.option(flag, f"{table}__{key}", **settings)(command)
        return command

    return add


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__)
def main() -> None:
    """From a sculpt to a ready-to-print buck for vacuum forming."""


@main.command(name="make")
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("out"),
    show_default=True,
    help="Folder for the results.",
)
@click.option("--json", "as_json", is_flag=True, help="Print report.json instead of the summary.")
@click.option("--no-pictures", is_flag=True, help="Leave the pictures out.")
@_with_options()
def make_command(source: Path, out: Path, as_json: bool, no_pictures: bool, **settings: Any) -> None:
    """Make the buck of a job.toml, or of a sculpt with the settings given here.

    Exit codes: 0 done, 2 bad input, 3 done but the part cannot come off the buck as it stands.
    """
    _run(source, settings, as_json, lambda job, bar: make(job, out, progress=bar, pictures=not no_pictures))


@main.command(name="look")
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=None,
    help="Folder for maps and pictures.  [default: NAME_look]",
)
@click.option("--json", "as_json", is_flag=True, help="Print the report instead of the summary.")
@click.option("--no-pictures", is_flag=True, help="Leave the pictures out.")
@_with_options(looking=True)
def look_command(source: Path, out: Path | None, as_json: bool, no_pictures: bool, **settings: Any) -> None:
    """Only look at a sculpt or the sculpt of a job.toml: print the findings and write maps; make nothing.

    Exit codes: 0 done, 2 bad input, 3 the part would lock on the sculpt as it is.
    """
    folder = out if out is not None else Path(f"{_name(source)}_look")
    _run(
        source, settings, as_json, lambda job, bar: look(job, folder, progress=bar, pictures=not no_pictures)
    )


@main.command(name="forecast")
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=None,
    help="Folder for report and pictures.  [default: NAME_forecast]",
)
@click.option("--json", "as_json", is_flag=True, help="Print the report instead of the summary.")
@click.option("--no-pictures", is_flag=True, help="Leave the pictures out.")
@_with_options(looking=True, forecasting=True)
def forecast_command(
    source: Path, out: Path | None, as_json: bool, no_pictures: bool, **settings: Any
) -> None:
    """Forecast the sheet on a finished buck (a mesh in mm, pull +z), or on the buck of a job.toml.

    How thin it gets and where, what it touches last, where air is shut in and where webs fold.
    """
    of_job = source.suffix.lower() == ".toml"
    folder = out if out is not None else Path(f"{_name(source)}_forecast")

    def work(job: Job, bar: Any) -> Outcome:
        if of_job:
            return forecast(job, folder, progress=bar, pictures=not no_pictures)
        sculpt = read_sculpt(source)
        scale = mm_per(job.sculpt.unit or sculpt.unit_in_file or "mm")
        buck = Mesh(sculpt.mesh.vertices * scale, sculpt.mesh.faces)
        return forecast_on(buck, job, folder, progress=bar, pictures=not no_pictures)

    _run(source, settings, as_json, work)


def _name(source: Path) -> str:
    """What results are called after: every job file is called job.toml; its folder says more."""
    return source.resolve().parent.name if source.suffix.lower() == ".toml" else source.stem


def _run(source: Path, settings: dict[str, Any], as_json: bool, work: Callable[[Job, Any], Outcome]) -> None:
    """Run with a progress bar on stderr; translate what happened into an exit code."""
    errors = Console(stderr=True)
    try:
        job = _job(source, settings)
        with _Bars(errors) as bars:
            outcome = work(job, bars)
    except (KeyboardInterrupt, Cancelled):
        errors.print("Stopped; nothing was written.")
        sys.exit(_FAILED)
    except BuckwrightError as error:
        errors.print(f"buckwright: {error}", markup=False, highlight=False, soft_wrap=True)
        sys.exit(_BAD_INPUT if isinstance(error, InputError | OSError) else _FAILED)
    if as_json:
        click.echo(to_json(outcome.report), nl=False)
    else:
        show_summary(outcome.summary, Console())
    sys.exit(_DONE if outcome.releases else _LOCKED)


def _job(source: Path, settings: dict[str, Any]) -> Job:
    """The job file with the command line's settings over it, or a quick job for a sculpt."""
    job = read_job(source) if source.suffix.lower() == ".toml" else _quick(source)
    tables: dict[str, dict[str, Any]] = {}
    for name, value in settings.items():
        if value is not None:
            table, key = name.split("__")
            tables.setdefault(table, {})[key] = _typed(key, value)
    return job.evolved(**tables) if tables else job


def _quick(source: Path) -> Job:
    """Settings for a bare sculpt."""
    return job_from({"sculpt": {"file": str(source)}, "job": {"name": source.stem}})


def _typed(key: str, value: Any) -> Any:
    """Some settings are a word or numbers; the command line gives them as text."""
    if key == "frame_mm":
        return [_as_number(part) for part in value.lower().replace("\u00d7", "x").split("x")]
    if key == "sink_mm" and value != "widest":
        return _as_number(value)
    if key == "direction" and "," in value:
        return [_as_number(part) for part in value.split(",")]
    return value


def _as_number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


class _Bars:
    """One bar per step that takes long enough to be seen."""

    def __init__(self, console: Console) -> None:
        columns = (TextColumn("{task.description:<26}"), BarColumn(), TimeElapsedColumn())
        # In a file or a pipe bars are only noise.
        quiet = not console.is_terminal
        self._bars = Progress(*columns, console=console, transient=True, disable=quiet)
        self._tasks: dict[str, Any] = {}

    def __enter__(self) -> "_Bars":
        self._bars.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bars.stop()

    def __call__(self, step: str, share: float) -> None:
        if step not in self._tasks:
            self._tasks[step] = self._bars.add_task(step, total=1.0)
        self._bars.update(self._tasks[step], completed=share)
