"""Publishing: all files of a run appear together or not at all."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np

from buckwright.output.files import Batch, Writer, refuse_unwritable
from buckwright.output.report import write_report

__all__ = ["Places", "write_arrays"]


@dataclass(frozen=True, slots=True)
class Places:
    """Where a run writes.

    Attributes
    ----------
    out : folder of the files for people; None for none
    results : folder of report.json and arrays.npz for a program; None for none

    Raises
    ------
    OutputError
        One of them cannot be written.
    """

    out: Path | None
    results: Path | None = None

    def __post_init__(self) -> None:
        """Stop before long work whose results could not be written."""
        for folder in (self.out, self.results):
            if folder is not None:
                refuse_unwritable(folder)

    def write(
        self,
        files: Mapping[str, bytes],
        report: dict[str, Any],
        arrays: Callable[[], dict[str, Any]],
        gate: Callable[[], None] | None,
    ) -> tuple[Path, ...]:
        """Publish everything at once; returns every file that was written, those for people first."""
        home = self.out if self.out is not None else self.results
        if home is None:
            return ()
        written: list[Path] = []
        with Batch(home, gate) as batch:
            if self.out is not None:
                written += [batch.add(name, _filled_by(data)) for name, data in files.items()]
                written.append(batch.add("report.json", lambda file: write_report(file, report)))
            if self.results is not None:
                values = arrays()
                into = self.results
                written.append(batch.add("report.json", lambda file: write_report(file, report), into=into))
                written.append(batch.add("arrays.npz", lambda file: write_arrays(file, values), into=into))
        return tuple(written)


def write_arrays(file: IO[bytes], arrays: Mapping[str, Any]) -> None:
    """Write an uncompressed numpy archive into an open file."""
    np.savez(file, **arrays, allow_pickle=False)


def _filled_by(data: bytes) -> Writer:
    return lambda file: file.write(data)
