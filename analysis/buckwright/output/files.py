"""Safe writing: a file appears whole or not at all, several files appear together or not at all."""

import errno
import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import IO, Self

from buckwright.errors import OutputError
from buckwright.mesh.bounds import shown
from buckwright.output.journal import held_signals, locked, publish, recover, sweep, waiting_name

__all__ = [
    "Batch",
    "Writer",
    "clear_leftovers",
    "filled_by",
    "mend",
    "missing_folders",
    "refuse_unwritable",
    "write_safely",
]

type Writer = Callable[[IO[bytes]], object]
"""Writes the whole content into an open binary file."""

_WORDS = {
    errno.EACCES: "no permission to write there, or the file is open in another program",
    errno.EPERM: "no permission to write there",
    errno.EROFS: "the disk is read-only",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your disk quota is used up",
    errno.EFBIG: "the file is larger than the disk allows",
    errno.EISDIR: "it is a folder, not a file",
    errno.ENOTDIR: "part of the path is a file, not a folder",
    errno.EEXIST: "there is a file where a folder is needed",
    errno.ENOENT: "the folder does not exist",
    errno.ENAMETOOLONG: "the name is too long",
}


def refuse_unwritable(folder: Path) -> None:
    """Refuse a folder before long work whose results could not be written; creates nothing.

    Parameters
    ----------
    folder : where results will go; need not exist

    Raises
    ------
    OutputError
        The folder, or the nearest one above it that exists, is a file or is not writable.
    """
    try:
        nearest = next((place for place in (folder, *folder.absolute().parents) if place.exists()), None)
    except (OSError, ValueError) as error:  # a name that no folder can have
        raise _in_words(folder, error if isinstance(error, OSError) else OSError(errno.EINVAL, "")) from error
    if nearest is None or not nearest.is_dir():
        raise _in_words(folder, OSError(errno.ENOTDIR, ""))
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise _in_words(folder, OSError(errno.EACCES, ""))


def write_safely(path: Path, writer: Writer) -> Path:
    """Write one file beside its final place and move it there in one step.

    Parameters
    ----------
    path : final place of the file; an older file is replaced, its folder is made if missing
    writer : called with the open file

    Returns
    -------
    Path : `path`

    Raises
    ------
    OutputError
        The file could not be written. Whatever `writer` raises otherwise passes through. In both cases
        nothing new is left behind and an older file is as it was.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = write_safely(Path(folder) / "notes.txt", lambda file: file.write(b"done"))
    ...     path.read_bytes()
    b'done'
    """
    with Batch(path.parent) as batch:
        batch.add(path.name, writer)
    return path


def filled_by(data: bytes) -> Writer:
    """A writer of bytes that are known.

    Parameters
    ----------
    data : what the file is to hold

    Returns
    -------
    Writer
    """
    return lambda file: file.write(data)


def missing_folders(folder: Path) -> list[Path]:
    """The folder and those above it that do not exist yet.

    Parameters
    ----------
    folder : any path

    Returns
    -------
    list of Path : outermost first
    """
    return [place for place in reversed((folder, *folder.parents)) if not place.exists()]


def clear_leftovers(folders: Iterable[Path], made: Iterable[Path], *, process: int) -> None:
    """Finish or remove what a process that was killed left half-written.

    Parameters
    ----------
    folders : where it wrote through a `Batch`
    made : folders that it may have made, outermost first; empty ones are removed
    process : its id
    """
    for folder in folders:
        if folder.is_dir():
            mend(folder, process=process)
    for place in reversed(list(made)):
        with suppress(OSError):
            place.rmdir()


def mend(folder: Path, *, process: int | None = None) -> bool:
    """Bring a folder in order in which a process was killed while it published.

    Parameters
    ----------
    folder : where it wrote through a `Batch`
    process : its id, if it is known to be gone

    Returns
    -------
    bool : whether a publication was finished
    """
    try:
        with locked(folder):
            finished = recover(folder)
            sweep(folder, process=process)
            return finished
    except OSError:
        return False


@dataclass(slots=True)
class Batch:
    """Several files that are published together when the `with` block ends well.

    Any exception in the block (a cancellation too) leaves the folders as they were before: older files
    untouched, no temporary file, and no folder that was made for the purpose.

    Attributes
    ----------
    folder : where files go unless `add` says otherwise
    gate : called when everything is written and nothing is published yet; an exception stops publishing
    """

    folder: Path
    gate: Callable[[], None] | None = None
    _made: list[Path] = field(default_factory=list)
    _waiting: dict[Path, Path] = field(default_factory=dict)
    _gone: list[Path] = field(default_factory=list)

    def __enter__(self) -> Self:
        """Make the folder, remembering which parts of it were missing."""
        try:
            self._make(self.folder)
        except OutputError:
            self._clear()
            raise
        mend(self.folder)
        return self

    def _make(self, folder: Path) -> None:
        try:
            for place in missing_folders(folder):
                place.mkdir(exist_ok=True)
                self._made.append(place)
            if not folder.is_dir():
                raise NotADirectoryError(errno.ENOTDIR, "not a folder")
        except OSError as error:
            raise _in_words(folder, error) from error

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Publish everything, or clear everything away."""
        if error is not None:
            self._clear()
            return
        try:
            if self.gate is not None:
                self.gate()
            with held_signals(), locked(self.folder):
                publish(self.folder, self._waiting, self._gone)
        except OSError as raised:
            self._clear()
            place = raised.filename2 or raised.filename or self.folder
            raise raised if isinstance(raised, OutputError) else _in_words(Path(place), raised) from raised
        except BaseException:
            self._clear()
            raise

    def add(self, name: str, writer: Writer, *, into: Path | None = None) -> Path:
        """Write one file to a temporary place, to be published with the others.

        Parameters
        ----------
        name : of the file
        writer : called with the open file
        into : folder in place of `folder`; made if missing

        Returns
        -------
        Path : where it will be published

        Raises
        ------
        OutputError
            It cannot be written there.
        """
        folder = self.folder if into is None else into
        self._make(folder)
        target = folder / name
        waiting = folder / waiting_name(name)
        try:
            if target.is_dir():
                raise IsADirectoryError(errno.EISDIR, "a folder")
            self._waiting[waiting] = target
            with waiting.open("xb") as file:
                writer(file)
                file.flush()
                os.fsync(file.fileno())
        except MemoryError as error:
            raise OutputError(f"{shown(target)} was not written: not enough memory") from error
        except OutputError:
            raise
        except OSError as error:
            raise _in_words(target, error) from error
        return target

    def remove(self, path: Path) -> None:
        """Take a file away when everything is published.

        Parameters
        ----------
        path : of an older publication in the same folder
        """
        self._gone.append(path)

    def _clear(self) -> None:
        """Remove every temporary file and every folder that was made and is still empty."""
        for waiting in self._waiting:
            with suppress(OSError):
                waiting.unlink(missing_ok=True)
        for place in reversed(self._made):
            with suppress(OSError):
                place.rmdir()


def _in_words(path: Path, error: OSError) -> OutputError:
    """Say what went wrong without error numbers."""
    reason = _WORDS.get(error.errno or 0, error.strerror or str(error))
    return OutputError(f"{shown(path)} was not written: {reason}. Choose another folder or fix this one")
