"""A job file with the changes of a variant; everything else stays as it was written, comments too."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import Item, Table

from buckwright.errors import JobError
from buckwright.job.files import read_job
from buckwright.job.job import Job, as_plain, listed

__all__ = ["changed_job"]


def changed_job(path: Path, changes: Mapping[str, Any], *, why: str) -> str:
    """The text of a job file with some settings changed, each with a comment beside it.

    Parameters
    ----------
    path : the job file as it is
    changes : values by 'table.key'
    why : stands above the first table

    Returns
    -------
    str : TOML

    Raises
    ------
    JobError
        The file cannot be used.
    """
    job = read_job(path)
    text = tomlkit.parse(path.read_text(encoding="utf-8-sig"))
    for name, value in changes.items():
        table, _, key = name.partition(".")
        held = text.setdefault(table, tomlkit.table())
        if not isinstance(held, Table):
            raise JobError(
                f"{path}: [{table}] is written in a way that cannot be changed; write it as a table"
            )
        notes = [f"was {_told(getattr(job.tables[table], key))}"]
        for other, aside in _set_aside(job, table, key, value).items():
            notes.append(f"in place of {other} = {_told(aside)}")
            held.pop(other, None)
        # as an entry: a switch would come without its comment
        there = held.item(key) if key in held else None
        before = there.trivia.comment.lstrip("# ") if isinstance(there, Item) else ""
        item = tomlkit.item(listed(value))
        item.comment("; ".join(filter(None, (*notes, "changed by tune", before))))
        held[key] = item
    return f"# {why}\n\n{tomlkit.dumps(text).lstrip()}"


def _set_aside(job: Job, table: str, key: str, value: Any) -> dict[str, Any]:
    """Keys of the same table that no longer hold with this value, and what they were: a frame by a gap."""
    before, after = (as_plain(one)[table] for one in (job, job.evolved(**{table: {key: value}})))
    return {other: was for other, was in before.items() if other != key and other not in after}


def _told(value: Any) -> str:
    return "left out" if value is None else tomlkit.item(listed(value)).as_string()
