"""Job files: settings of a scene from and to TOML, as the command line takes them."""

from pathlib import Path

import bpy

from ..bridge.library import BuckwrightError, as_plain, job_from, read_job, write_job
from . import heat_painting, job_tables, settings, write_results
from .fields import files_of_job
from .files import write_whole
from .plain_words import spoken
from .snapshot import Refused, Snapshot

__all__ = ["open_job", "save_job"]


def save_job(scene: bpy.types.Scene, path: Path, sculpt: Snapshot | None) -> None:
    """Write a job file, and beside it the sculpt that it then names.

    Raises
    ------
    Refused
        A setting cannot be used, a file cannot be written, or the sculpt of another job would be replaced; in
        words.
    """
    beside = path.with_name(sculpt.file_name()) if sculpt is not None else None
    if beside is not None and beside.exists() and not _names_it(path, beside):
        raise Refused(f"{beside.name} is there already and belongs to another job: choose another folder")
    try:
        text = write_job(job_from(job_tables.of(scene, sculpt=beside.name if beside else "")))
        if sculpt is not None and beside is not None:
            _write_sculpt(beside, sculpt)
        write_whole(path, text)
    except BuckwrightError as error:
        raise Refused(spoken(str(error))) from error
    except OSError as error:
        raise Refused(f"{path.name} cannot be written: {error.strerror or error}") from error


def open_job(scene: bpy.types.Scene, path: Path) -> None:
    """Take the settings of a job file; vents and an outline that it names become markers and a curve.

    Raises
    ------
    Refused
        The file cannot be read, or holds a setting that cannot be used; in words.
    """
    try:
        tables = as_plain(read_job(path))
    except BuckwrightError as error:
        raise Refused(str(error)) from error
    for field in files_of_job():
        if file := tables[field.table].get(field.key):
            tables[field.table][field.key] = str((path.parent / file).absolute())
    others = [one.strip() for one in str(tables["group"].get("others", "")).split(";") if one.strip()]
    if others:
        tables["group"]["others"] = "; ".join(str((path.parent / one).absolute()) for one in others)
    settings.write_tables(scene, tables)
    heat_painting.remove(scene)
    write_results.place_by_hand(scene, tables)


def _names_it(path: Path, beside: Path) -> bool:
    """Whether the job file that is to be replaced had this sculpt."""
    try:
        return path.exists() and read_job(path).sculpt.file == beside.name
    except BuckwrightError:
        return False


def _write_sculpt(path: Path, sculpt: Snapshot) -> None:
    """Write the sculpt whole or not at all."""
    beside = path.with_name(f".{path.name}-unfinished")
    try:
        sculpt.save(beside)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
