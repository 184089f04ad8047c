"""Project files: the parts of one costume or model, what they share, twins and sizes; plain TOML."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buckwright.errors import JobError
from buckwright.job import Job, job_from
from buckwright.job.files import read_tables
from buckwright.many.entries import MOST_JOBS, names_apart, plain_name
from buckwright.settings import known, settings_of
from buckwright.stages import tables

__all__ = ["Project", "SetPart", "read_project"]

_TOP = ("set", "shared", "part")
_SET = {"name": str, "number": str, "story": str, "one_frame": bool}
_PART = {"name": str, "file": str, "count": int, "twin": str, "twin_name": str, "sizes_mm": dict}
_MOST_COPIES = 100_000


@dataclass(frozen=True, slots=True)
class SetPart:
    """One buck of a set.

    Attributes
    ----------
    name : of its folder and its row; no two are alike
    title : what people call it; engraved
    job : its settings
    count : good parts of it that the set takes
    twin_of : title of the part that it mirrors; empty where it mirrors none
    wanted_mm : what its measurement is scaled to; None where it has no size from a list
    """

    name: str
    title: str
    job: Job
    count: int
    twin_of: str = ""
    wanted_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Project:
    """A set of parts.

    Attributes
    ----------
    name, number, story : words for the job sheet
    one_frame : whether one frame is to serve all parts
    parts : in the order of the file, sizes and twins after one another
    """

    name: str
    number: str
    story: str
    one_frame: bool
    parts: tuple[SetPart, ...]


def read_project(path: Path) -> Project:
    """Read a project file.

    Parameters
    ----------
    path : TOML; files that it names start at its folder

    Returns
    -------
    Project

    Raises
    ------
    JobError
        The file is missing, is no TOML, or holds what cannot be used; one line for each.
    """
    raw = read_tables(path)
    wrong = _unknown(raw, _TOP, "the project")
    about = _checked(raw.get("set", {}), _SET, "[set]", wrong)
    shared = _tables(raw.get("shared", {}), "[shared]", wrong)
    found = raw.get("part", [])
    if not isinstance(found, list) or not found:
        wrong.append("there is no part: write [[part]] with file = ... for each")
        found = []
    parts: list[SetPart] = []
    for n, entry in enumerate(found, 1):
        parts += _part(entry, n, path.parent, shared, str(about.get("number", "")), wrong)
    wrong += _alike(parts)
    if wrong:
        raise JobError("\n  ".join((f"{path} cannot be used:", *wrong)))
    if len(parts) > MOST_JOBS:
        raise JobError(f"{path} makes {len(parts):,} parts; at most {MOST_JOBS:,} are taken at once")
    names = names_apart([plain_name(part.title) for part in parts])
    return Project(
        name=str(about.get("name", "")) or path.stem,
        number=str(about.get("number", "")),
        story=str(about.get("story", "")),
        one_frame=bool(about.get("one_frame", False)),
        parts=tuple(
            SetPart(name, part.title, part.job, part.count, part.twin_of, part.wanted_mm)
            for name, part in zip(names, parts, strict=True)
        ),
    )


def _alike(parts: list[SetPart]) -> list[str]:
    """Lines about titles that several parts have: blanks and frames are told apart by them."""
    often = Counter(part.title for part in parts)
    return [
        f"{count} parts are called {title!r}: give each a name of its own"
        for title, count in often.items()
        if count > 1
    ]


def _unknown(raw: Mapping[str, Any], names: Any, where: str) -> list[str]:
    lines = []
    for name in raw:
        if name not in names:
            near = known(name, list(names))
            hint = f"did you mean {near}?" if near else f"there are {', '.join(names)}"
            lines.append(f"{where} has no {name!r}; {hint}")
    return lines


def _checked(raw: Any, kinds: Mapping[str, type], where: str, wrong: list[str]) -> dict[str, Any]:
    """Entries of known names and kinds; what is wrong is noted."""
    if not isinstance(raw, Mapping):
        wrong.append(f"{where} must be a table")
        return {}
    wrong += _unknown(raw, kinds, where)
    for name, value in raw.items():
        kind = kinds.get(name)
        if kind is not None and (not isinstance(value, kind) or (kind is int and isinstance(value, bool))):
            wrong.append(f"{where} {name} must be {_KINDS[kind]}, got {value!r}")
    return {name: value for name, value in raw.items() if isinstance(value, kinds.get(name, ()))}


_KINDS = {
    str: "text in quotes",
    bool: "true or false",
    int: "a whole number",
    dict: "a table of names and mm",
}


def _tables(raw: Any, where: str, wrong: list[str]) -> dict[str, dict[str, Any]]:
    """Tables of a job; their settings are checked with the job that they go into."""
    if not isinstance(raw, Mapping):
        wrong.append(f"{where} must be a table")
        return {}
    wrong += _unknown(raw, tables(), where)
    wrong += [
        f"{where} {name} must be a table, got {value!r}: write [shared.{name}]"
        for name, value in raw.items()
        if name in tables() and not isinstance(value, Mapping)
    ]
    return {name: dict(values) for name, values in raw.items() if isinstance(values, Mapping)}


def _part(
    entry: Any,
    number: int,
    folder: Path,
    shared: Mapping[str, Mapping[str, Any]],
    set_number: str,
    wrong: list[str],
) -> list[SetPart]:
    """All bucks of one entry: its sizes, and the twin of each."""
    where = f"part {number}"
    if not isinstance(entry, Mapping):
        wrong.append(f"{where} must be a table: write [[part]]")
        return []
    own = {name: value for name, value in entry.items() if name in tables() and isinstance(value, Mapping)}
    begun = len(wrong)
    words = _checked({name: value for name, value in entry.items() if name not in own}, _PART, where, wrong)
    _check_words(words, where, wrong)
    if len(wrong) > begun:
        return []
    try:
        job = _job(folder, words["file"], shared, own)
        made = list(_bucks(job, words, set_number))
    except JobError as error:
        wrong.append(f"{where} ({words['file']}): {error}")
        return []
    return made


def _check_words(words: Mapping[str, Any], where: str, wrong: list[str]) -> None:
    if not words.get("file"):
        wrong.append(f"{where} names no job file or sculpt: write file = ...")
    if not 1 <= words.get("count", 1) <= _MOST_COPIES:
        wrong.append(f"{where} count must be between 1 and {_MOST_COPIES}, got {words['count']}")
    axes = [word for word in settings_of(tables()["sculpt"])["mirror"].words if word != "none"]
    if "twin" in words and words["twin"] not in axes:
        wrong.append(f"{where} twin must be one of {', '.join(axes)}; got {words['twin']!r}")
    for name, value in words.get("sizes_mm", {}).items():
        if isinstance(value, bool) or not isinstance(value, int | float):
            wrong.append(f"{where} sizes_mm {name} must be a number of mm, got {value!r}")


def _job(
    folder: Path, file: str, shared: Mapping[str, Mapping[str, Any]], own: Mapping[str, Mapping[str, Any]]
) -> Job:
    """The job of a part: its file, over that what all share, over that its own."""
    path = folder / file
    if path.suffix.lower() == ".toml":
        job = job_from(read_tables(path), where=str(path), folder=path.parent)
    else:
        job = Job(sculpt={"file": path.name}, folder=path.parent)
    return job.evolved(**shared).evolved(**own)


def _bucks(job: Job, words: Mapping[str, Any], number: str) -> Iterator[SetPart]:
    title = words.get("name") or job.title
    sizes = words.get("sizes_mm")
    if sizes and job.size.measure == "none":
        raise JobError("sizes_mm needs a measurement that they are sizes of: set size.measure")
    count = int(words.get("count", job.stock.parts))
    for size, wanted in (sizes or {"": None}).items():
        named = f"{title} {size}".rstrip()
        changes: dict[str, dict[str, Any]] = {"job": {"name": named}, "stock": {"parts": count}}
        if number and not job.job.number:
            changes["job"]["number"] = number
        if wanted is not None:
            changes["size"] = {"wanted_mm": float(wanted)}
        sized = job.evolved(**changes)
        yield SetPart("", named, sized, count, wanted_mm=wanted)
        if "twin" in words:
            other = f"{words.get('twin_name') or f'{title} mirrored'} {size}".rstrip()
            # a mirror image keeps the pull, whatever the axis: that of a mirrored part is the sculpt itself
            mirror = words["twin"] if job.sculpt.mirror == "none" else "none"
            twin = sized.evolved(job={"name": other}, sculpt={"mirror": mirror})
            yield SetPart("", other, twin, count, twin_of=named, wanted_mm=wanted)
