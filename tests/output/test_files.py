"""A file appears whole or not at all; several appear together or not at all."""

import errno
import os
from pathlib import Path

import pytest

from buckwright.errors import Cancelled, OutputError
from buckwright.output.files import Batch, write_safely


def everything_under(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def test_writes_and_replaces(tmp_path: Path) -> None:
    target = tmp_path / "new" / "deep" / "Büste.stl"
    assert write_safely(target, lambda file: file.write(b"one")) == target
    write_safely(target, lambda file: file.write(b"two"))
    assert target.read_bytes() == b"two"
    assert everything_under(tmp_path) == {"new", "new/deep", "new/deep/Büste.stl"}


def test_file_mode_follows_the_umask(tmp_path: Path) -> None:
    write_safely(tmp_path / "a", lambda file: file.write(b"x"))
    (tmp_path / "b").write_bytes(b"x")
    assert (tmp_path / "a").stat().st_mode == (tmp_path / "b").stat().st_mode


def fail_after_some_bytes(error: Exception):
    def writer(file) -> None:
        file.write(b"half")
        raise error

    return writer


@pytest.mark.parametrize(
    ("raised", "expected", "words"),
    [
        (OSError(errno.ENOSPC, "x"), OutputError, "disk is full"),
        (OSError(errno.EROFS, "x"), OutputError, "read-only"),
        (PermissionError(errno.EACCES, "x"), OutputError, "no permission"),
        (MemoryError(), OutputError, "not enough memory"),
        (Cancelled("stop"), Cancelled, "stop"),
        (OutputError("own words"), OutputError, "own words"),
        (ZeroDivisionError("a bug"), ZeroDivisionError, "a bug"),
    ],
)
def test_failure_leaves_nothing(tmp_path: Path, raised: Exception, expected: type, words: str) -> None:
    with pytest.raises(expected, match=words):
        write_safely(tmp_path / "made" / "buck.stl", fail_after_some_bytes(raised))
    assert everything_under(tmp_path) == set()


def test_failure_keeps_the_older_file(tmp_path: Path) -> None:
    target = tmp_path / "buck.stl"
    target.write_bytes(b"older")
    with pytest.raises(OutputError):
        write_safely(target, fail_after_some_bytes(OSError(errno.ENOSPC, "x")))
    assert target.read_bytes() == b"older"
    assert everything_under(tmp_path) == {"buck.stl"}


def test_failing_fsync_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="disk is full"):
        write_safely(tmp_path / "a", lambda file: file.write(b"x"))
    assert everything_under(tmp_path) == set()


def test_parent_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match="is a file"):
        write_safely(tmp_path / "file" / "buck.stl", lambda file: file.write(b"x"))
    with pytest.raises(OutputError):
        write_safely(tmp_path / "file" / "deeper" / "buck.stl", lambda file: file.write(b"x"))
    assert everything_under(tmp_path) == {"file"}


def test_target_is_a_folder(tmp_path: Path) -> None:
    (tmp_path / "buck.stl").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        write_safely(tmp_path / "buck.stl", lambda file: file.write(b"x"))
    assert everything_under(tmp_path) == {"buck.stl"}


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_folder_without_permission(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="no permission"):
        write_safely(tmp_path / "buck.stl", lambda file: file.write(b"x"))
    tmp_path.chmod(0o700)
    assert everything_under(tmp_path) == set()


def test_long_name(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="too long"):
        write_safely(tmp_path / ("x" * 300), lambda file: file.write(b"x"))
    name = "ü" * 120
    write_safely(tmp_path / name, lambda file: file.write(b"x"))
    assert everything_under(tmp_path) == {name}


def test_batch_publishes_at_the_end(tmp_path: Path) -> None:
    with Batch(tmp_path / "out") as batch:
        batch.add("a", lambda file: file.write(b"a"))
        batch.add("b", lambda file: file.write(b"b"))
        assert not (tmp_path / "out" / "a").exists()
    assert everything_under(tmp_path) == {"out", "out/a", "out/b"}


def test_cancelled_batch_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(Cancelled), Batch(tmp_path / "out" / "deep") as batch:
        batch.add("a", lambda file: file.write(b"a"))
        raise Cancelled("asked to stop")
    assert everything_under(tmp_path) == set()


def test_second_file_fails_first_is_not_published(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"older")
    with pytest.raises(OutputError), Batch(tmp_path) as batch:
        batch.add("a", lambda file: file.write(b"new"))
        batch.add("b", fail_after_some_bytes(OSError(errno.ENOSPC, "x")))
    assert everything_under(tmp_path) == {"a"}
    assert (tmp_path / "a").read_bytes() == b"older"


def test_failure_while_publishing_puts_back_what_stood_there(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"older a")
    with pytest.raises(OutputError), Batch(tmp_path) as batch:
        batch.add("a", lambda file: file.write(b"new a"))
        batch.add("fresh", lambda file: file.write(b"new"))
        waiting = batch.add("b", lambda file: file.write(b"new b"))
        # Somebody takes the third waiting file away, so that its move must fail.
        next(path for path in tmp_path.glob(".b.*.part")).unlink()
        assert waiting == tmp_path / "b"
    assert everything_under(tmp_path) == {"a"}
    assert (tmp_path / "a").read_bytes() == b"older a"


def test_folder_name_too_long(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="too long"):
        write_safely(tmp_path / ("x" * 300) / "a", lambda file: file.write(b"x"))
    assert everything_under(tmp_path) == set()
