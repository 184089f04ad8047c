"""Job files: a `Job` read from and written to TOML, mistakes told in words."""

import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomli_w

from buckwright.errors import JobError
from buckwright.job.job import Job, as_plain, listed
from buckwright.mesh.bounds import shown
from buckwright.settings import Setting, settings_of
from buckwright.stages import tables

__all__ = [
    "RENAMED",
    "commented_job",
    "job_from",
    "read_job",
    "read_tables",
    "renamed",
    "renamed_keys",
    "write_job",
]

_MOST_BYTES = 4_000_000  # vents placed by hand are the longest entry: 40 bytes each

RENAMED: Mapping[tuple[str, str], tuple[str, str]] = {
    ("base", "most_mm"): ("base", "platen_mm"),
    ("base", "fixing"): ("underside", "fixing"),
    ("base", "fixings"): ("underside", "fixing_count"),
    ("base", "engrave"): ("underside", "engrave"),
    ("forecast", "tallest_mm"): ("forecast", "machine_height_mm"),
}
"""Keys of older job files, and what they are called now."""


def job_from(raw: Mapping[str, Any], *, where: str = "the job", folder: str | Path = ".") -> Job:
    """Build a job from plain tables; keys of older files are read under their new names.

    Raises
    ------
    JobError
        With one line for each unknown table or key, wrong kind or value out of range.
    """
    try:
        return Job.of(renamed(raw), folder=folder)
    except JobError as error:
        lines = "\n  ".join(str(error).splitlines())
        raise JobError(f"{where} cannot be used:\n  {lines}") from error


def renamed_keys(raw: Mapping[str, Any]) -> list[str]:
    """One line for each key that has another name now."""
    return [
        f"[{old[0]}] {old[1]} is called [{new[0]}] {new[1]} now"
        for old, new in RENAMED.items()
        if isinstance(raw.get(old[0]), Mapping) and old[1] in raw[old[0]]
    ]


def renamed(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Plain tables with keys of older files under their new names; nothing is checked."""
    plain = {name: dict(values) if isinstance(values, Mapping) else values for name, values in raw.items()}
    for (table, key), (new_table, new_key) in RENAMED.items():
        if isinstance(plain.get(table), dict) and key in plain[table]:
            value = plain[table].pop(key)
            home = plain.setdefault(new_table, {})
            if isinstance(home, dict):
                home.setdefault(new_key, value)
    return plain


def read_job(path: str | Path) -> Job:
    """Read a job file.

    Raises
    ------
    JobError
        The file is missing, is no TOML, or holds a setting that cannot be used.
    """
    path = Path(path)
    return job_from(read_tables(path), where=str(path), folder=path.parent)


def read_tables(path: Path) -> dict[str, Any]:
    """The tables of a job file as they stand there.

    Raises
    ------
    JobError
        The file is missing or is no TOML.
    """
    try:
        return tomllib.loads(_text_of(path))
    except FileNotFoundError as error:
        raise JobError(f"{path}: there is no such job file") from error
    except IsADirectoryError as error:
        raise JobError(f"{path} is a folder; name the job.toml in it") from error
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"{path} is not valid TOML: {error}") from error
    except RecursionError as error:
        raise JobError(f"{path} is not valid TOML: it is nested too deep") from error
    except (OSError, ValueError) as error:  # also text that is not UTF-8, and numbers of thousands of digits
        raise JobError(
            f"{shown(path)} cannot be read: {getattr(error, 'strerror', None) or error}"
        ) from error


def _text_of(path: Path) -> str:
    """The text of a regular file of bounded size."""
    held = path.stat()
    if stat.S_ISDIR(held.st_mode):
        raise IsADirectoryError(path)
    if not stat.S_ISREG(held.st_mode):
        raise OSError("it is a pipe or device, not a file")
    if held.st_size > _MOST_BYTES:
        raise OSError(
            f"it holds {held.st_size / 1e6:.0f} MB; a job file has at most {_MOST_BYTES / 1e6:.0f} MB"
        )
    return path.read_text(encoding="utf-8-sig")  # some editors put a mark in front


def write_job(job: Job) -> str:
    """Text of the job file, every setting spelled out except those that follow from others."""
    return tomli_w.dumps(as_plain(job))


def commented_job(job: Job, *, examples: Mapping[str, Any] | None = None) -> str:
    """Text of a job file in which every setting stands with its tip, unit, range and choices.

    Settings that differ from the default are set; the others stand as comments with their default, so that
    the file says what can be changed without fixing anything.

    Parameters
    ----------
    job : its tables
    examples : values to show, by 'table.key', for settings that are left out
    """
    parts = []
    for table, kind in tables().items():
        about = (kind.__doc__ or "").strip().splitlines()[0]
        lines = [f"[{table}]  # {about}"]
        fresh = kind()
        for key, setting in settings_of(kind).items():
            value = getattr(job.tables[table], key)
            shown = value if value is not None else (examples or {}).get(f"{table}.{key}", _example(setting))
            lines += _commented(key, setting, shown, fixed=value != getattr(fresh, key))
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def _commented(key: str, setting: Setting, shown: Any, *, fixed: bool) -> list[str]:
    notes = [setting.tip]
    if setting.words:
        notes.append("one of " + ", ".join(setting.words))
    if words := setting.range_words():
        notes.append(words)
    if setting.optional:
        notes.append(f"left out: {setting.automatic}")
    entry = tomli_w.dumps({key: shown}).strip().replace("\n", " ")
    return [f"# {'; '.join(notes)}", entry if fixed else f"# {entry}"]


def _example(setting: Setting) -> Any:
    if setting.start is not None:
        return listed(setting.start)
    if setting.kind == "places":
        return [[0.0] * setting.size]
    return next(iter(setting.words), 0.0 if setting.low < 0.0 else max(setting.low, 0.0))
