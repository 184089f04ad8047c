"""Publishing several files as one: a journal makes it wholly old or wholly new, whatever is killed.

Every file waits beside its place, complete and on the disk. Then the journal is written; from that moment the
new files are the ones that count. They are moved to their places, what the journal takes away is removed, and
the journal goes. Whoever finds a journal finishes what it says (`recover`); whoever finds waiting files of a
process that is gone takes them away. One process at a time publishes into a folder: it holds a lock that ends
with it.
"""

import errno
import json
import os
import secrets
import signal
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

__all__ = ["PART", "alive", "held_signals", "locked", "publish", "recover", "settle", "sweep", "waiting_name"]

JOURNAL = ".buckwright-journal"
PART = ".part"
_BACKUP = ".old"
_LOCK = ".buckwright-lock"


def waiting_name(name: str) -> str:
    """Name under which a file waits: with the process and a random part, so that two runs never share one.

    The name is cut because the additions could push a long one over the limit of the file system.
    """
    return f".{name[:40]}.{os.getpid()}.{secrets.token_hex(4)}{PART}"


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder against other processes; the lock ends with the process, however that ends.

    Raises
    ------
    OSError
        The folder cannot be opened.
    """
    if sys.platform == "win32":
        with _locked_file(folder / _LOCK):
            yield
        return
    import fcntl

    descriptor = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # a file system without locks: go on without
            fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


@contextmanager
def _locked_file(path: Path) -> Iterator[None]:
    """A folder cannot be locked on Windows; a file in it can."""
    import msvcrt

    with path.open("ab") as file:
        msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined,unused-ignore]
        try:
            yield
        finally:
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined,unused-ignore]


@contextmanager
def held_signals() -> Iterator[None]:
    """Hold interrupts back while files are moved; they arrive afterwards."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Python runs its handlers in the main thread only
        return
    heard: list[int] = []
    kinds = (getattr(signal, name, None) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"))
    before = {kind: signal.getsignal(kind) for kind in kinds if kind is not None}
    held = [kind for kind, handler in before.items() if handler is not None]
    for kind in held:
        signal.signal(kind, lambda number, _frame: heard.append(number))
    try:
        yield
    finally:
        for kind in held:
            signal.signal(kind, before[kind])
        for number in dict.fromkeys(heard):
            signal.raise_signal(number)


def publish(folder: Path, moves: Mapping[Path, Path], gone: Sequence[Path] = ()) -> None:
    """Move waiting files to their places and take others away, all or nothing.

    Parameters
    ----------
    folder : holds the journal; locked by the caller
    moves : place of each waiting file; in this order they appear
    gone : files that go

    Raises
    ------
    OSError
        A move failed; everything stands as it was before.
    """
    journal = folder / JOURNAL
    entries = [[str(waiting), str(target), _backup_name(target)] for waiting, target in moves.items()]
    entries += [["", str(target), _backup_name(target)] for target in gone]
    backed: list[tuple[Path, Path]] = []
    try:
        for _, target, backup in entries:
            if Path(target).exists():
                _twin(Path(target), Path(backup))
                backed.append((Path(target), Path(backup)))
        _write_journal(journal, entries)
        for waiting, target, _ in entries:
            _move(waiting, target)
    except OSError:
        _put_back(entries, backed)
        journal.unlink(missing_ok=True)
        raise
    journal.unlink(missing_ok=True)
    for _, twin in backed:
        with suppress(OSError):
            twin.unlink()


def _move(waiting: str, target: str) -> None:
    if waiting:
        Path(waiting).replace(target)
    else:
        Path(target).unlink(missing_ok=True)


def _put_back(entries: list[list[str]], backed: list[tuple[Path, Path]]) -> None:
    """Undo moves: what was there before returns, what was not goes."""
    before = {target for target, _ in backed}
    for waiting, name, _ in entries:
        target = Path(name)
        if target not in before and waiting and not Path(waiting).exists():
            with suppress(OSError):
                target.unlink(missing_ok=True)
    for older, backup in backed:
        with suppress(OSError):
            backup.replace(older)
            # two names of one file are left as they are by a move of one to the other
            backup.unlink(missing_ok=True)


def _backup_name(target: str | Path) -> str:
    path = Path(target)
    return str(path.with_name(f".{path.name[:40]}.{os.getpid()}.{secrets.token_hex(4)}{_BACKUP}"))


def _twin(target: Path, backup: Path) -> None:
    """A second name for a file, or a copy where the file system knows no second names."""
    try:
        os.link(target, backup)
    except OSError as error:
        if error.errno in (errno.ENOENT, errno.ENOSPC):
            raise
        import shutil

        shutil.copy2(target, backup)


def _write_journal(journal: Path, entries: list[list[str]]) -> None:
    """Put the journal on the disk in one step."""
    waiting = journal.with_name(waiting_name(journal.name))
    with waiting.open("xb") as file:
        file.write(json.dumps({"entries": entries}).encode())
        file.flush()
        os.fsync(file.fileno())
    waiting.replace(journal)
    settle(journal.parent)


def settle(folder: Path) -> None:
    """Have the folder itself on the disk, where the system can be asked to."""
    if sys.platform == "win32":
        return
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def recover(folder: Path) -> bool:
    """Finish what a process that was killed had begun to publish; whether there was anything.

    A damaged or foreign journal is taken away: it is written in one step, so no move was made on its word.
    """
    journal = folder / JOURNAL
    try:
        entries = [
            (str(waiting), str(target), str(backup))
            for waiting, target, backup in json.loads(journal.read_bytes())["entries"]
        ]
    except FileNotFoundError:
        return False
    except (OSError, ValueError, KeyError, TypeError):
        with suppress(OSError):
            journal.unlink(missing_ok=True)
        return False
    for waiting, target, backup in entries:
        if not waiting or Path(waiting).exists():
            with suppress(OSError):
                _move(waiting, target)
        with suppress(OSError):
            Path(backup).unlink(missing_ok=True)
    with suppress(OSError):
        journal.unlink(missing_ok=True)
    return True


def sweep(folder: Path, *, process: int | None = None) -> None:
    """Take away waiting files and second names of processes that are gone, or of one that is named."""
    for kind in (PART, _BACKUP):
        for path in folder.glob(f".*{kind}"):
            owner = _owner(path.name)
            if owner is None or (owner != process and alive(owner)):
                continue
            with suppress(OSError):
                path.unlink()


def _owner(name: str) -> int | None:
    """The process in the name of a waiting file; None if it is none of ours."""
    parts = name.split(".")
    known = len(parts) >= 5 and parts[-3].isdigit() and len(parts[-2]) == 8
    return int(parts[-3]) if known else None


def alive(process: int) -> bool:
    """Whether a process runs; True where that cannot be asked."""
    if process == os.getpid():
        return True
    if sys.platform == "win32":
        return True  # not to be asked without more than the standard library: left to the next start there
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
