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


def save_job(
    scene: bpy.types.Scene, path: Path, sculpt: Snapshot | None, body: Snapshot | None = None
) -> None:
    """Write a job file, and beside it the sculpt and the body that it then names.

    Raises
    ------
    Refused
        A setting cannot be used, a file cannot be written, or the sculpt of another job would be replaced; in
        words.
    """
    files = {} if sculpt is None else {"sculpt": (path.with_name(sculpt.file_name()), sculpt)}
    files |= {} if body is None else {"body": (path.with_name(f"body_{body.file_name()}"), body)}
    for beside, _ in files.values():
        if beside.exists() and not _names_it(path, beside):
            raise Refused(f"{beside.name} is there already and belongs to another job: choose another folder")
    try:
        names = {what: beside.name for what, (beside, _) in files.items()}
        text = write_job(job_from(job_tables.of(scene, **names)))
        for beside, mesh in files.values():
            _write_sculpt(beside, mesh)
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
    for table, key in files_of_job():
        if file := tables[table].get(key):
            tables[table][key] = str((path.parent / file).absolute())
    others = [one.strip() for one in str(tables["group"].get("others", "")).split(";") if one.strip()]
    if others:
        tables["group"]["others"] = "; ".join(str((path.parent / one).absolute()) for one in others)
    settings.write_tables(scene, tables)
    heat_painting.remove(scene)
    write_results.place_by_hand(scene, tables)


def _names_it(path: Path, beside: Path) -> bool:
    """Whether the job file that is to be replaced had this sculpt or body."""
    try:
        if not path.exists():
            return False
        job = read_job(path)
        return beside.name in (job.sculpt.file, job.body.file)
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
