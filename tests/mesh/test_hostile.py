"""Files that were made to hurt: a clear refusal within 2 GB of memory and 30 s, and never a traceback."""

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest

from buckwright.errors import JobError
from buckwright.job.files import read_tables

if sys.platform == "win32":
    pytest.skip("memory is measured by the resource limits of Unix", allow_module_level=True)

_READ = """
import json, resource, sys, time
resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
resource.setrlimit(resource.RLIMIT_CPU, (40, 40))
from buckwright.errors import BuckwrightError
from buckwright.mesh.reading import read_sculpt
try:
    words = str(read_sculpt(sys.argv[1]).mesh.face_count)
except BuckwrightError as error:
    words = str(error)
usage = resource.getrusage(resource.RUSAGE_SELF)
memory = usage.ru_maxrss
if sys.platform != "darwin":
    # where a process is started by another, its greatest use counts that of the other as well
    with open("/proc/self/status") as status:
        memory = 1024 * next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
print(json.dumps([words, memory, usage.ru_utime + usage.ru_stime]))
"""


def refused(path):
    """The words of the refusal, once memory and time were seen to be bounded."""
    run = subprocess.run(
        [sys.executable, "-c", _READ, str(path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert run.returncode == 0, run.stderr
    words, memory, seconds = json.loads(run.stdout)
    assert memory < 2e9
    assert seconds < 30.0
    return words


def bomb(path, entry, piece, times, head=b"", tail=b""):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive, archive.open(entry, "w") as stream:
        stream.write(head)
        for _ in range(times):
            stream.write(piece)
        stream.write(tail)
    assert path.stat().st_size < 2_000_000
    return path


MODEL = b'<model unit="millimeter"><resources><object id="1"><mesh><vertices>'


def test_ten_million_triangles_that_share_nothing(tmp_path):
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    piece = np.zeros(1_000_000, record)
    rng = np.random.default_rng(0)
    path = tmp_path / "scattered.stl"
    with path.open("wb") as stream:
        stream.write(bytes(80) + np.uint32(10 * len(piece)).tobytes())
        for _ in range(10):
            piece["corners"] = rng.random((len(piece), 1, 3)) * 100 + rng.random((len(piece), 3, 3))
            stream.write(piece.tobytes())
    assert "hardly any share a corner" in refused(path)


def test_a_package_of_zeros(tmp_path):
    path = bomb(tmp_path / "zeros.3mf", "3D/3dmodel.model", bytes(1 << 20), 1000)
    assert "1049 MB" in refused(path)
    path = bomb(tmp_path / "fewer.3mf", "3D/3dmodel.model", bytes(1 << 20), 300)
    assert "far more than any sculpt" in refused(path)


def test_a_package_of_points(tmp_path):
    piece = b'<vertex x="0" y="0" z="0"/>' * 10_000
    path = bomb(tmp_path / "points.3mf", "3D/3dmodel.model", piece, 1000, MODEL)
    assert "far more than any sculpt" in refused(path)


def test_a_package_with_an_endless_word(tmp_path):
    word = np.random.default_rng(0).integers(97, 123, 1 << 20, np.uint8).tobytes()
    path = tmp_path / "word.3mf"
    with zipfile.ZipFile(path, "w") as archive, archive.open("3D/3dmodel.model", "w") as stream:
        stream.write(b'<model unit="')
        for _ in range(40):
            stream.write(word)
    assert "element of more than 16 MB" in refused(path)


def test_a_snapshot_of_zeros(tmp_path):
    head = tmp_path / "head"
    with head.open("wb") as stream:
        shape = {"descr": "<f8", "fortran_order": False, "shape": (20_000_000, 3)}
        np.lib.format.write_array_header_1_0(stream, shape)
    path = bomb(tmp_path / "zeros.npz", "vertices.npy", bytes(24_000_000), 20, head.read_bytes())
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("faces.npy", b"")
    assert "far more than any sculpt" in refused(path)


@pytest.mark.parametrize(
    "name", ["large.stl", "large.obj", "large.ply", "large.off", "large.3mf", "large.glb"]
)
def test_files_of_many_gigabytes(tmp_path, name):
    path = tmp_path / name
    head = {
        "stl": b"solid ",
        "ply": b"ply\n",
        "3mf": b"PK\x03\x04",
        "glb": b"glTF",
        "off": b"OFF\n",
        "obj": b"v 0 0 0\n",
    }
    path.write_bytes(head[path.suffix[1:]])
    os.truncate(path, 20_000_000_000)  # a hole: it takes no room on the disk
    assert "20000 MB" in refused(path)


@pytest.mark.parametrize("element", ["vertex", "face", "tristrips", "other"])
def test_a_header_that_counts_to_the_moon(tmp_path, element):
    path = tmp_path / "moon.ply"
    for form in ("ascii", "binary_little_endian"):
        path.write_text(
            f"ply\nformat {form} 1.0\nelement {element} 1000000000000\nproperty float x\nproperty float y\n"
            "property float z\nproperty list uchar int vertex_indices\nend_header\n0 0 0 0\n"
        )
        assert "cut short" in (words := refused(path)) or "triangles; at most" in words


def test_pipes_and_devices(tmp_path):
    pipe = tmp_path / "pipe.stl"
    os.mkfifo(pipe)
    device = tmp_path / "zero.obj"
    device.symlink_to("/dev/zero")
    for path in (pipe, device, Path("/dev/zero")):
        assert "pipe or device" in refused(path)


def test_job_files_are_regular_and_small(tmp_path):
    pipe = tmp_path / "job.toml"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        with pytest.raises(JobError, match="pipe or device"):
            read_tables(path)
    large = tmp_path / "large.toml"
    large.write_bytes(b"")
    os.truncate(large, 5_000_000)
    with pytest.raises(JobError, match="at most 4 MB"):
        read_tables(large)
    for text, words in (
        ("a = " + "[" * 50_000, "TOML|too deep"),
        ("a = " + "9" * 10_000, "TOML|cannot be read"),
    ):
        large.write_text(text)
        with pytest.raises(JobError, match=words):
            read_tables(large)
    with pytest.raises(JobError, match="cannot be read"):
        read_tables(tmp_path / ("x" * 300 + ".toml"))


@pytest.mark.parametrize("name", ["x" * 300 + ".stl", "x" * 5000 + ".obj", "a\0b.stl"])
def test_paths_that_no_file_can_have(name):
    from buckwright.errors import MeshError
    from buckwright.mesh.reading import read_sculpt

    with pytest.raises(MeshError, match="cannot be opened") as told:
        read_sculpt(name)
    assert len(str(told.value)) < 300


@pytest.mark.parametrize("text", ["[" * 100_000, '{"command": ' * 100_000, " " * 5_000_000])
def test_a_request_nested_too_deep_or_too_long(tmp_path, text):
    from buckwright.host import Request

    path = tmp_path / "request.json"
    path.write_text(text)
    with pytest.raises(ValueError, match="cannot be read"):
        Request.read(str(path))
    with pytest.raises(ValueError, match="cannot be read"):
        Request.read("/dev/zero")


def test_brackets_in_names_are_printed_as_they_are(capsys):
    from rich.console import Console

    from buckwright.output.summary import Summary, show_summary

    show_summary(Summary(title="[red]mask[/red] [/]", outcome="done [bold]"), Console(width=100))
    assert "[red]mask[/red] [/]: done [bold]" in capsys.readouterr().out


@pytest.mark.parametrize("command", ["look", "make"])
def test_the_commands_refuse_in_words(tmp_path, command, monkeypatch):
    from click.testing import CliRunner

    from buckwright.cli import main

    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe.stl")
    os.mkfifo("pipe.toml")
    (tmp_path / "job.toml").write_text("[sculpt]\nfile = 'pipe.stl'\n")
    sources = ("pipe.stl", "pipe.toml", "job.toml", "y" * 300 + ".stl", "y" * 300 + ".toml", "[red]x[/].stl")
    for source in sources:
        result = CliRunner().invoke(main, [command, source])
        assert result.exit_code == 2, result.output
        assert isinstance(result.exception, SystemExit)
        assert result.stderr.startswith("buckwright: ")
    assert "[red]x[/].stl" in result.stderr


@pytest.mark.parametrize(
    "words",
    [
        ["look", "x" * 300 + ".stl"],
        ["make", "x" * 300 + ".toml"],
        ["start", "x" * 300 + ".stl"],
        ["start", "--sample", "x" * 300 + ".stl"],
        ["start", "--sample", "a.stl", "--out", "x" * 300 + ".toml"],
        ["open", "x" * 300],
        ["look", "a.stl", "--out", "/".join(["x" * 200] * 25)],
        ["look", "no\x1b[31mpe.stl"],
        ["look", "a.stl", "--no\x1b[31mpe"],
    ],
)
def test_paths_beyond_measure_and_control_codes_are_told_of_in_short(tmp_path, words, monkeypatch):
    from click.testing import CliRunner

    from buckwright.cli import main

    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, words, color=True)
    assert (result.exit_code, type(result.exception)) == (2, SystemExit)
    assert len(result.stderr) < 500
    assert "\x1b" not in result.stderr


@pytest.mark.skipif(sys.platform != "linux", reason="other systems keep names as text")
def test_sculpts_of_any_name(tmp_path, monkeypatch):
    import trimesh
    from click.testing import CliRunner

    from buckwright.cli import main

    monkeypatch.chdir(tmp_path)
    names = ("long" * 50 + ".stl", "a\x1b[31m[red].stl", os.fsdecode(b"h\xe4t.stl"))
    for name in names:
        trimesh.creation.cone(radius=15, height=20, sections=12).export(name)
        result = CliRunner().invoke(main, ["start", name, "--force"], color=True)
        assert isinstance(result.exception, SystemExit | None)
        assert "\x1b" not in result.output
        assert result.exit_code == (2 if name == names[-1] else 0), result.output
        words = ["look", name, "--pull-direction", "z", "--no-pictures", "--out", "\x1b[31mout"]
        result = CliRunner().invoke(main, words, color=True)
        assert result.exit_code == 0, result.output
        assert "\x1b" not in result.output
