"""Publishing: all files of a run appear together or not at all; a folder holds one generation of one run."""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np

from buckwright.errors import OutputError
from buckwright.output.files import Batch, filled_by, mend, refuse_unwritable
from buckwright.output.report import write_report

__all__ = ["Places", "hashes_of", "report_name", "write_arrays"]

_LONGEST_REPORT = 64 * 1024 * 1024


def report_name(command: str) -> str:
    """Name of the report of a command among its files: that of `make` is plain, others say whose it is."""
    return "report.json" if command == "make" else f"{command.partition('-')[0]}_report.json"


def hashes_of(files: Mapping[str, bytes]) -> dict[str, str]:
    """SHA-256 of each file, by name: with it anybody can tell whether a folder is of one piece."""
    return {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}


@dataclass(frozen=True, slots=True)
class Places:
    """Where a run writes.

    Attributes
    ----------
    command : whose files they are
    out : folder of the files for people; None for none
    results : folder of report.json and arrays.npz for a program; None for none
    prefix : what the names of the files in `out` begin with

    Raises
    ------
    OutputError
        One of them cannot be written, or `out` holds the results of another command.
    """

    command: str
    out: Path | None
    results: Path | None = None
    prefix: str = ""

    def __post_init__(self) -> None:
        """Stop before long work whose results could not be written; mend what a killed run has left."""
        for folder in (self.out, self.results):
            if folder is not None:
                refuse_unwritable(folder)
                if folder.is_dir():
                    mend(folder)
        if self.out is not None:
            self._refuse_others(self.out)

    def _refuse_others(self, folder: Path) -> None:
        for command in ("look", "make", "forecast"):
            name = report_name(command)
            if name != report_name(self.command) and _older(folder / f"{self.prefix}{name}"):
                raise OutputError(
                    f"{folder} holds the results of '{command}'; choose another folder for those of "
                    f"'{self.command}'"
                )

    def write(
        self,
        files: Mapping[str, bytes],
        report: dict[str, Any],
        arrays: Callable[[], dict[str, Any]],
        gate: Callable[[], None] | None,
    ) -> tuple[Path, ...]:
        """Publish everything at once, the report last; files of an older run that are not replaced go.

        Parameters
        ----------
        files : for people, by name, the prefix included
        report : tree of report.json
        arrays : gives the arrays for a program
        gate : see `Batch`

        Returns
        -------
        Every file that was written, those for people first.

        Raises
        ------
        OutputError
            They cannot be written; everything is as it was.
        """
        home = self.out if self.out is not None else self.results
        if home is None:
            return ()
        written: list[Path] = []
        with Batch(home, gate) as batch:
            if self.results is not None:
                values, into = arrays(), self.results
                written.append(batch.add("arrays.npz", lambda file: write_arrays(file, values), into=into))
                written.append(batch.add("report.json", lambda file: write_report(file, report), into=into))
            if self.out is not None:
                own = [batch.add(name, filled_by(data)) for name, data in files.items()]
                name = f"{self.prefix}{report_name(self.command)}"
                for older in _left_over(self.out, name, set(files)):
                    batch.remove(older)
                own.append(batch.add(name, lambda file: write_report(file, report)))
                written = own + written
        return tuple(written)


def _older(report: Path) -> dict[str, str]:
    """Files that an older report names, with their hashes; none if it is no report of ours."""
    try:
        if not report.is_file() or report.stat().st_size > _LONGEST_REPORT:
            return {}
        named = json.loads(report.read_bytes()).get("files", {})
        return {str(name): str(value) for name, value in named.items()}
    except (OSError, ValueError, AttributeError, RecursionError):
        return {}


def _left_over(folder: Path, report: str, fresh: set[str]) -> list[Path]:
    """Files of the older run that the new one does not replace, and that nobody has changed since."""
    found = []
    for name, known in _older(folder / report).items():
        path = folder / name
        if name in fresh or Path(name).name != name or not path.is_file():
            continue
        with path.open("rb") as file:
            if hashlib.file_digest(file, "sha256").hexdigest() == known:
                found.append(path)
    return found


def write_arrays(file: IO[bytes], arrays: Mapping[str, Any]) -> None:
    """Write an uncompressed numpy archive into an open file."""
    np.savez(file, **arrays, allow_pickle=False)
