"""`Job`: every setting of one buck, composed of the tables that the stages own."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import attrs

from buckwright.errors import JobError
from buckwright.mesh.bounds import printable
from buckwright.settings import known, settings_of, table_from
from buckwright.stages import tables

if TYPE_CHECKING:
    from buckwright.mesh.reading import Sculpt

__all__ = ["Job", "as_plain", "listed", "name_after"]


class Job:
    """All settings of one buck; a table that is left out takes its defaults.

    Tables are attributes: `job.sheet.thickness_mm`. A job does not change; `evolved` gives a changed copy.

    Parameters
    ----------
    folder : where relative paths start; it is not written into job files
    **given : tables by name, each as a mapping of keys or as the table itself

    Raises
    ------
    JobError
        A table, key or value that is not known or out of range; one line for each.

    Examples
    --------
    >>> job = Job(sheet={"material": "PETG", "thickness_mm": 1.0})
    >>> job.sheet.thickness_mm
    1.0
    >>> job.evolved(sheet={"thickness_mm": 0.75}).sheet.material
    'PETG'
    """

    __slots__ = ("_given", "_tables", "folder")

    folder: Path
    _tables: dict[str, Any]
    _given: "Sculpt | None"

    def __init__(self, *, folder: str | Path = ".", **given: Any) -> None:
        object.__setattr__(self, "folder", Path(folder))
        object.__setattr__(self, "_tables", _made(given))
        object.__setattr__(self, "_given", None)

    @classmethod
    def of(cls, tables: Mapping[str, Any], *, folder: str | Path = ".") -> Self:
        """A job from tables whose names may be any words, as they come from a file.

        Raises
        ------
        JobError
            A table, key or value that is not known or out of range; one line for each.
        """
        return cls(folder=folder, **_made(tables))

    def __getattr__(self, name: str) -> Any:
        """A table."""
        if name.startswith("_") or name not in self._tables:
            raise AttributeError(f"a job has no table {name!r}; it has {', '.join(self._tables)}")
        return self._tables[name]

    def __setattr__(self, name: str, _value: Any) -> None:
        raise AttributeError(f"a job does not change: use job.evolved({name}={{...}})")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Job) and self._tables == other._tables

    def __hash__(self) -> int:
        return hash(tuple(self._tables.values()))

    def __repr__(self) -> str:
        """The tables that differ from the defaults."""
        changed = {
            table: {key: value for key, value in as_plain(self)[table].items() if value != fresh.get(key)}
            for table, fresh in as_plain(Job()).items()
        }
        words = ", ".join(f"{table}={values}" for table, values in changed.items() if values)
        return f"Job({words})"

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._tables]

    def __reduce__(self) -> Any:
        return _again, (as_plain(self), str(self.folder), self._given)

    @property
    def tables(self) -> Mapping[str, Any]:
        """All tables by name."""
        return dict(self._tables)

    @property
    def given(self) -> "Sculpt | None":
        """The sculpt in memory, where the job has one instead of a file."""
        return self._given

    @property
    def title(self) -> str:
        """What results are called after: the job's name, else that of the file."""
        name = self.job.name or (Path(self.sculpt.file).stem if self.sculpt.file else "sculpt")
        return printable(name.replace("\n", " "))

    @property
    def sculpt_path(self) -> Path:
        """The sculpt's file, relative paths taken from the job's folder.

        Raises
        ------
        JobError
            The job names no file.
        """
        if not self.sculpt.file:
            raise JobError('the job names no sculpt: write file = "..." under [sculpt]')
        path: Path = self.folder / self.sculpt.file
        return path

    def evolved(self, **given: Mapping[str, Any]) -> Self:
        """A copy with some keys changed: `job.evolved(sheet={"thickness_mm": 1.0})`.

        A key that takes the place of others, as a wanted width does of a wanted height, sets those aside.

        Raises
        ------
        JobError
            A key or value that the table does not take.
        """
        raw = as_plain(self)
        for table, values in given.items():
            changed = _plain_table(values)
            for key in _replaced(table, changed):
                raw[table].pop(key, None)
            raw.setdefault(table, {}).update(changed)
        return self._with(self.of(raw, folder=self.folder))

    def with_sculpt(self, sculpt: "Sculpt") -> Self:
        """A copy that takes its sculpt from memory."""
        copy = type(self)(folder=self.folder, **as_plain(self))
        object.__setattr__(copy, "_given", replace(sculpt))
        return copy

    def _with(self, copy: Self) -> Self:
        object.__setattr__(copy, "_given", self._given)
        return copy


def _replaced(table: str, changed: Mapping[str, Any]) -> list[str]:
    """Keys of a table that no longer hold once others are set."""
    kind = tables().get(table)
    known_settings = {} if kind is None else settings_of(kind)
    return [
        other
        for key, value in changed.items()
        if value is not None and key in known_settings
        for other in known_settings[key].replaces
        if other not in changed
    ]


def _again(raw: dict[str, Any], folder: str, given: "Sculpt | None") -> Job:
    job = Job(folder=folder, **raw)
    return job if given is None else job.with_sculpt(given)


def _made(given: Mapping[str, Any]) -> dict[str, Any]:
    kinds, wrong = tables(), []
    made: dict[str, Any] = {}
    for name in given:
        if name not in kinds:
            near = known(name, list(kinds))
            hint = f"; did you mean {near}?" if near else f"; there are {', '.join(kinds)}"
            wrong.append(f"there is no table [{name}]{hint}")
    for name, kind in kinds.items():
        values = given.get(name, {})
        if isinstance(values, kind):
            made[name] = values
        elif not isinstance(values, Mapping):
            wrong.append(f"'{name}' is not a table of settings, write it as [{name}]")
        else:
            made[name], lines = table_from(kind, values, title=name)
            wrong += lines
    if wrong:
        raise JobError("\n".join(wrong))
    return made


def _plain_table(values: Any) -> dict[str, Any]:
    return attrs.asdict(values) if attrs.has(type(values)) else dict(values)


def as_plain(job: Job) -> dict[str, dict[str, Any]]:
    """A job as plain tables; settings that follow from others are left out."""
    return {
        name: {key: listed(value) for key, value in attrs.asdict(table).items() if value is not None}
        for name, table in job.tables.items()
    }


def name_after(file: Path) -> str:
    """Name of a job after its sculpt's file: as much as a name may hold, letters of no text as a mark."""
    longest = settings_of(tables()["job"])["name"].longest
    return file.stem[:longest].encode(errors="replace").decode()


def listed(value: Any) -> Any:
    """Tuples as lists, at any depth."""
    return [listed(entry) for entry in value] if isinstance(value, tuple) else value
