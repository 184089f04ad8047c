"""What is done already: one line for each job as it is done, so that a killed run goes on from there."""

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from buckwright import __version__
from buckwright.errors import JobError, OutputError
from buckwright.job import Job, read_job
from buckwright.job.job import as_plain
from buckwright.mesh.bounds import shown
from buckwright.pipeline.publishing import report_name
from buckwright.pipeline.source import FileSource, contents_of, source_of
from buckwright.pipeline.store import hashed, own_texts
from buckwright.workshop.group.neighbours.neighbour import made_file, named_bucks

__all__ = ["DoneBook", "DoneJob", "key_of"]

_FILE = "done.jsonl"


@dataclass(frozen=True, slots=True)
class DoneJob:
    """One job that is done.

    Attributes
    ----------
    name : of its folder
    key : of all that it depends on
    report : SHA-256 of its report
    releases : whether the part releases
    seconds : that it took
    """

    name: str
    key: str
    report: str
    releases: bool
    seconds: float


def key_of(command: str, job: Job, *, pictures: bool) -> str:
    """All that a job's results depend on, hashed: settings, content of the sculpt, own sheets and machines.

    Parameters
    ----------
    command : name of one of `COMMANDS`
    job : settings
    pictures : whether they are drawn
    """
    try:
        sculpt = source_of(job).digest()
    except JobError:  # running it will say what is wrong
        sculpt = ""
    files = {table: contents_of(job, table) for table in job.tables}
    told = (as_plain(job), sculpt, files, _other_bucks(job), own_texts())
    return hashed(__version__, command, pictures, *told)


def _other_bucks(job: Job) -> list[str]:
    """Hashes of the bucks that share the pull, and of the sculpts of those that are made anew."""
    found = []
    with suppress(JobError):  # running it will say what is wrong
        for file, _ in named_bucks(job.group.others):
            path = made_file(job.folder / file)
            found.append(FileSource(path).digest())
            if path.suffix.lower() == ".toml":
                found.append(source_of(read_job(path)).digest())
    return found


class DoneBook:
    """The jobs of one folder that are done.

    Parameters
    ----------
    folder : where the jobs have their folders
    command : name of one of `COMMANDS`
    """

    def __init__(self, folder: Path, command: str) -> None:
        self._folder, self._report = folder, report_name(command)
        self._done = {one.name: one for one in _read(folder / _FILE)}

    def find(self, name: str, key: str) -> DoneJob | None:
        """A job that is done and whose results are all there; None if it must be run."""
        one = self._done.get(name)
        return one if one is not None and one.key == key and self._whole(one) else None

    def add(self, one: DoneJob) -> None:
        """Note a job whose files are published.

        Raises
        ------
        OutputError
            It cannot be noted.
        """
        self._done[one.name] = one
        path = self._folder / _FILE
        try:
            with path.open("a+b") as file:
                # a line that was cut off by a kill must not swallow this one
                begin = b"" if _ends_well(file) else b"\n"
                file.write(begin + json.dumps(asdict(one)).encode() + b"\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise OutputError(f"{shown(path)} was not written: {error.strerror or error}") from error

    def report(self, name: str) -> dict[str, Any]:
        """The report of a job that is done."""
        read: dict[str, Any] = json.loads((self._folder / name / self._report).read_bytes())
        return read

    def _whole(self, one: DoneJob) -> bool:
        """Whether the report is the one that was noted and every file that it names is there."""
        home = self._folder / one.name
        try:
            data = (home / self._report).read_bytes()
            names = json.loads(data)["files"]
        except (OSError, ValueError, KeyError):
            return False
        return hashlib.sha256(data).hexdigest() == one.report and all((home / n).is_file() for n in names)


def _ends_well(file: Any) -> bool:
    if not file.seek(0, os.SEEK_END):
        return True
    file.seek(-1, os.SEEK_END)
    return bool(file.read(1) == b"\n")


def _read(path: Path) -> list[DoneJob]:
    """The jobs that a file names; a line that was cut off is left out."""
    try:
        lines = path.read_bytes().splitlines()
    except OSError:
        return []
    found = []
    for line in lines:
        try:
            found.append(DoneJob(**json.loads(line)))
        except (ValueError, TypeError):
            continue
    return found
