"""What is to be done: one entry for each job of a batch, or for each variant of a sweep."""

import hashlib
import itertools
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from buckwright.errors import InputError, JobError
from buckwright.job import Job, name_after, read_job
from buckwright.many.varying import Varied

__all__ = ["MOST_JOBS", "Entry", "batch_entries", "names_apart", "plain_name", "sweep_entries"]

MOST_JOBS = 10_000
"""More are taken for a slip of the keyboard. House rule."""

_SCULPTS = (".stl", ".obj", ".ply", ".3mf", ".glb", ".gltf", ".off")
_LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Entry:
    """One job among many.

    Attributes
    ----------
    name : of its row and of its folder; no two are alike
    job : its settings; None where they cannot be used
    wrong : then what is wrong with them
    varied : what a sweep has set, by 'table.key'
    """

    name: str
    job: Job | None
    wrong: str = ""
    varied: Mapping[str, Any] = field(default_factory=dict)


def batch_entries(
    sources: Iterable[Path], changes: Mapping[str, Mapping[str, Any]] | None = None
) -> list[Entry]:
    """Entries for job files, sculpts and folders of them.

    Parameters
    ----------
    sources : job files, sculpts, or folders; of a folder every job file below it, or where there is none
        every sculpt in it
    changes : settings for all of them, by table

    Raises
    ------
    InputError
        A folder holds nothing to do, or there are too many jobs. A job that cannot be used is no reason to
        stop: its entry says what is wrong with it.
    """
    files = list(dict.fromkeys(file for source in sources for file in _files_of(source)))
    _refuse_too_many(len(files))
    names = names_apart([_name_of(file) for file in files])
    return [_entry(name, file, changes or {}) for name, file in zip(names, files)]


def sweep_entries(job: Job, varied: Sequence[Varied]) -> list[Entry]:
    """Entries for every combination of values; the last setting changes fastest.

    Raises
    ------
    InputError
        There are too many.
    """
    count = 1
    for one in varied:
        count *= len(one.values)
    _refuse_too_many(count)
    rows = [
        dict(zip([one.name for one in varied], values))
        for values in itertools.product(*(one.values for one in varied))
    ]
    names = names_apart([_words_of(row) for row in rows])
    return [_variant(name, job, row) for name, row in zip(names, rows)]


def _variant(name: str, job: Job, row: Mapping[str, Any]) -> Entry:
    tables: dict[str, dict[str, Any]] = {}
    for setting, value in row.items():
        table, _, key = setting.partition(".")
        tables.setdefault(table, {})[key] = value
    return Entry(name, job.evolved(**tables), varied=row)


def _entry(name: str, file: Path, changes: Mapping[str, Mapping[str, Any]]) -> Entry:
    try:
        if file.suffix.lower() == ".toml":
            job = read_job(file)
        else:
            job = Job(sculpt={"file": str(file)}, job={"name": name_after(file)})
        return Entry(name, job.evolved(**changes))
    except JobError as error:
        return Entry(name, None, wrong=str(error))


def _files_of(source: Path) -> list[Path]:
    if not source.is_dir():
        return [source]
    jobs = sorted(source.rglob("job.toml")) or sorted(source.glob("*.toml"))
    found = jobs or sorted(file for file in source.iterdir() if file.suffix.lower() in _SCULPTS)
    if not found:
        raise InputError(f"{source} holds neither job files nor sculpts; name a folder that does")
    return found


def _name_of(file: Path) -> str:
    """Every job file may be called job.toml; its folder says more."""
    return plain_name(file.resolve().parent.name if file.name == "job.toml" else file.stem)


def _words_of(row: Mapping[str, Any]) -> str:
    return plain_name("_".join(f"{name.rpartition('.')[2]}-{_shown(value)}" for name, value in row.items()))


def _shown(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "x".join(_shown(part) for part in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def plain_name(name: str) -> str:
    """A name that a folder can have on any system."""
    plain = re.sub(r"[^\w.+-]+", "_", name).strip("._") or "job"
    if len(plain) <= _LONGEST_NAME:
        return plain
    return f"{plain[:_LONGEST_NAME]}-{hashlib.sha256(name.encode()).hexdigest()[:8]}"


def names_apart(names: Sequence[str]) -> list[str]:
    """Names of which no two are alike, whatever the system makes of capitals."""
    often = Counter(name.casefold() for name in names)
    taken: set[str] = {name for name, count in often.items() if count == 1}
    apart = []
    for name in names:
        numbered, n = name, 1
        if often[name.casefold()] > 1:
            while (numbered := f"{name}_{n}").casefold() in taken:
                n += 1
            taken.add(numbered.casefold())
        apart.append(numbered)
    return apart


def _refuse_too_many(count: int) -> None:
    if count > MOST_JOBS:
        raise InputError(f"these are {count:,} jobs; at most {MOST_JOBS:,} are taken at once")
