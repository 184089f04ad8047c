"""The file of pulls: plain TOML, to which a record is added in one step.

A record is added by writing the whole file anew beside its place, settling it on the disk and moving it
there, while the folder is held against others: whatever is killed, the file is the old one or the new one.
What was in it before is kept byte for byte, notes and order included; a file that cannot be read is not
touched.
"""

import os
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import Any

import tomli_w

from buckwright.errors import JobError, OutputError
from buckwright.output.journal import held_signals, locked, settle, waiting_name
from buckwright.workshop.log.record import PullRecord, record_from

__all__ = ["append_pull", "log_path", "read_pulls", "replace_file"]

_HEAD = "# Pulls of this buck, the oldest first. Each [[pull]] is one; notes of your own are kept.\n"
_MOST_BYTES = 4_000_000


def log_path(folder: Path, sculpt: str) -> Path:
    """Where the pulls of a job stand.

    Parameters
    ----------
    folder : of the job
    sculpt : name of the sculpt's file
    """
    return folder / f"{Path(sculpt).stem}.pulls.toml"


def read_pulls(path: Path) -> tuple[PullRecord, ...]:
    """All records, the oldest first; none where there is no file.

    Parameters
    ----------
    path : of the log

    Returns
    -------
    tuple of PullRecord

    Raises
    ------
    JobError
        The file cannot be read; it says which pull is wrong.
    """
    return _pulls(path, _bytes_of(path))


def append_pull(path: Path, record: PullRecord) -> int:
    """Add a record.

    Parameters
    ----------
    path : of the log; its folder must be there
    record : what to add

    Returns
    -------
    int : number of the record, from 1

    Raises
    ------
    JobError
        The file that is there cannot be read; it stays as it is.
    OutputError
        It cannot be written; it stays as it was.
    """
    try:
        with held_signals(), locked(path.parent):
            before = _bytes_of(path)
            number = len(_pulls(path, before)) + 1
            entry = f"[[pull]]\n{tomli_w.dumps(record.noted())}"
            start = before if before.strip() else _HEAD.encode()
            after = b"".join([start, b"" if start.endswith(b"\n") else b"\n", b"\n", entry.encode()])
            if len(_pulls(path, after)) != number:
                raise JobError(f"{path}: the record does not read back; nothing was written")
            replace_file(path, after)
    except OSError as error:
        raise OutputError(f"{path} was not written: {error.strerror or error}") from error
    return number


def _bytes_of(path: Path) -> bytes:
    try:
        if not path.exists():
            return b""
        if not path.is_file() or path.stat().st_size > _MOST_BYTES:
            raise JobError(f"the log {path} is no file, or larger than {_MOST_BYTES / 1e6:g} MB")
        return path.read_bytes()
    except OSError as error:
        raise JobError(f"the log {path} cannot be read: {error.strerror or error}") from error


def _pulls(path: Path, data: bytes) -> tuple[PullRecord, ...]:
    try:
        rows: Any = tomllib.loads(data.decode("utf-8-sig")).get("pull", [])
    except (ValueError, RecursionError) as error:
        raise JobError(f"the log {path} cannot be read: {error}; mend it by hand, nothing is lost") from error
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise JobError(f"the log {path} cannot be read: pulls are tables named [[pull]]")
    return tuple(_record(path, n, row) for n, row in enumerate(rows, 1))


def _record(path: Path, number: int, row: dict[str, Any]) -> PullRecord:
    try:
        return record_from(row, title=f"pull {number}")
    except JobError as error:
        raise JobError(f"the log {path} cannot be used: {error}") from error


def replace_file(path: Path, data: bytes) -> None:
    """Write a file anew beside its place, settle it on the disk and move it there.

    Parameters
    ----------
    path : of the file
    data : what it holds from now on
    """
    waiting = path.with_name(waiting_name(path.name))
    try:
        with waiting.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        waiting.replace(path)
    finally:
        with suppress(OSError):
            waiting.unlink(missing_ok=True)
    settle(path.parent)
