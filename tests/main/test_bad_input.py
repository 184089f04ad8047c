"""Bad input ends with code 2, says what is wrong and what to do, and leaves nothing behind."""

import os
import struct
import sys

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner
from manifold3d import Manifold

from buckwright.cli import main
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh

BARE = ["--pull-direction", "z", "--fill-mode", "none", "--no-pictures"]


@pytest.fixture
def make_of(tmp_path, monkeypatch):
    """Run `make` on a file; returns the result and asks that a refusal leaves no trace."""
    monkeypatch.chdir(tmp_path)

    def run(path, *words, out="out"):
        before = {place: place.stat().st_mtime_ns for place in tmp_path.rglob("*")}
        result = CliRunner().invoke(main, ["make", str(path), "--out", str(out), *BARE, *words])
        if result.exit_code == 2:
            assert result.stdout == ""
            assert {place: place.stat().st_mtime_ns for place in tmp_path.rglob("*")} == before
        return result

    return run


def _refused(result, *words):
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.stderr
    assert result.stderr.startswith(("buckwright: ", "Usage: "))
    for word in words:
        assert word in result.stderr, result.stderr


def _binary(count, *, claimed=None):
    """A binary STL of `count` faces whose header claims another number."""
    ball = trimesh.creation.icosphere(subdivisions=2, radius=20.0)
    data = ball.export(file_type="stl")[: 84 + 50 * count]
    return data[:80] + struct.pack("<I", count if claimed is None else claimed) + data[84:]


TRIANGLE = (
    b"solid t\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 9 0 0\nvertex 0 9 0\nendloop\nendfacet\n"
)

FILES = {
    "empty.stl": (b"", ["empty"]),
    "empty.obj": (b"", ["empty"]),
    "blank.obj": (b"# nothing\n", ["no triangles"]),
    "points.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", ["triangle"]),
    "one.stl": (TRIANGLE + b"endsolid t\n", ["single triangle"]),
    "text_cut.stl": (TRIANGLE, ["cut short", "endsolid"]),
    "cut.stl": (_binary(300)[:-1000], ["cut short", "300", "280"]),
    "cut_header.stl": (_binary(300)[:50], ["cut short", "50 bytes"]),
    "lying.stl": (_binary(300, claimed=200), ["header", "200", "300"]),
    "ten_million.stl": (_binary(0, claimed=10_000_000), ["cut short", "10000000"]),
    "no_faces.stl": (_binary(0), ["no triangles"]),
    "wrong.ply": (_binary(300), ["STL", "rename"]),
    "wrong.3mf": (b"PK\x03\x04 but not a package", ["3MF"]),
    "sculpt.blend": (b"BLENDER-v404", [".blend", ".stl", ".obj"]),
    "sculpt": (_binary(300), ["no extension", ".stl"]),
    "letters.stl": (b"what a nice day" * 40, ["header"]),
    "lost.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", ["cannot be read"]),
    "job.toml": (b"[job]\nname = 'no sculpt'\n", ["names no sculpt", "[sculpt]"]),
    "broken.toml": (b"[sculpt\n", ["TOML"]),
}


@pytest.mark.parametrize("name", FILES)
def test_files_that_hold_no_sculpt(name, make_of, tmp_path):
    data, words = FILES[name]
    (tmp_path / name).write_bytes(data)
    _refused(make_of(name), *words)


def test_missing_file_and_directory(make_of, tmp_path):
    _refused(make_of("absent.stl"), "absent.stl", "does not exist")
    (tmp_path / "folder.stl").mkdir()
    _refused(make_of("folder.stl"), "folder.stl is a folder")
    (tmp_path / "job.toml").write_text("[sculpt]\nfile = 'lost.stl'\n")
    _refused(make_of("job.toml"), "lost.stl", "does not exist")


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e39])
def test_numbers_that_are_none(bad, make_of, sculpt_file, tmp_path):
    data = bytearray(sculpt_file("cone").read_bytes())
    with np.errstate(over="ignore"):
        data[84 + 12 : 84 + 16] = np.float32(bad).tobytes()  # first coordinate of the first face
    (tmp_path / "bad.stl").write_bytes(data)
    _refused(make_of("bad.stl"), "finite", "face 0")


def test_flat_and_pointlike_sculpts(make_of, sculpt_file):
    square = Mesh.from_arrays([[0, 0, 0], [30, 0, 0], [30, 30, 0], [0, 30, 0]], [[0, 1, 2], [0, 2, 3]])
    _refused(make_of(sculpt_file(square)), "nothing")
    same = Mesh.from_arrays(np.ones((3, 3)), [[0, 1, 2]])
    _refused(make_of(sculpt_file(same)))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--sheet-thickness-mm", "0"], ["--sheet-thickness-mm", "between 0.05 and 10 mm", "got 0"]),
        (["--sheet-thickness-mm", "-1"], ["--sheet-thickness-mm", "got -1"]),
        (["--sheet-thickness-mm", "nan"], ["--sheet-thickness-mm", "got nan"]),
        (["--sculpt-height-mm", "-60"], ["--sculpt-height-mm", "got -60"]),
        (["--sculpt-width-mm", "0"], ["--sculpt-width-mm", "got 0"]),
        (["--base-riser-mm", "-3"], ["--base-riser-mm", "got -3"]),
        (["--draft-wanted-deg", "90"], ["--draft-wanted-deg", "between 0.1 and 44 degrees"]),
        (["--sheet-material", "unobtainium"], ["--sheet-material", "unobtainium", "PETG"]),
        (["--base-sink-mm", "500"], ["leaves nothing of its 20.1 mm", "sink it less"]),
        (["--base-sink-mm", "-5"], ["--base-sink-mm", "got -5"]),
        (["--pull-direction", "0,0,0"], ["--pull-direction", "zero"]),
        (["--pull-direction", "nan,0,1"], ["--pull-direction", "finite"]),
    ],
)
def test_settings_that_cannot_be(words, said, make_of, sculpt_file):
    _refused(make_of(sculpt_file("cone"), *words), *said)


def test_output_that_is_a_file(make_of, sculpt_file, tmp_path):
    (tmp_path / "out").write_text("mine")
    _refused(make_of(sculpt_file("cone")), "out", "file")
    assert (tmp_path / "out").read_text() == "mine"
    _refused(make_of(sculpt_file("cone"), out="out/deeper"), "out")


def test_output_is_refused_before_the_work_begins(job_of, tmp_path):
    from buckwright.errors import OutputError
    from buckwright.pipeline.run import run

    (tmp_path / "out").write_text("mine")
    steps = []
    with pytest.raises(OutputError):
        run("make", job_of("cone"), tmp_path / "out", progress=lambda step, _: steps.append(step))
    assert steps == []


def test_output_that_may_not_be_written(make_of, sculpt_file, tmp_path):
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        pytest.skip("the administrator may write everywhere")
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    _refused(make_of(sculpt_file("cone"), out="locked/out"), "permission")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="/proc is a Linux folder")
def test_output_where_no_folder_can_be_made(make_of, sculpt_file):
    _refused(make_of(sculpt_file("cone"), out="/proc/buck"), "/proc/buck", "not written")


# --- what is bad but can be mended is mended, and said


def test_inside_out_sculpt_is_turned(make_of, shape, sculpt_file, read_back, tmp_path):
    cone = shape("cone")
    path = sculpt_file(Mesh(cone.vertices, np.ascontiguousarray(cone.faces[:, ::-1])))
    result = make_of(path, "--json")
    assert result.exit_code == 0, result.output
    assert "orient" in result.stdout
    assert read_back(tmp_path / "out" / "buck.stl").volume_mm3() > cone.volume_mm3()


def test_two_crossing_bodies_become_one(make_of, sculpt_file, read_back, tmp_path):
    one = as_mesh(Manifold.cube((30, 30, 15)).translate((-15, -15, 0)))
    two = as_mesh(Manifold.cylinder(25, 9, 6, 48).translate((3.3, 1.7, 0)))
    both = Mesh.from_arrays(
        np.concatenate([one.vertices, two.vertices]),
        np.concatenate([one.faces, two.faces + one.vertex_count]),
    )
    result = make_of(sculpt_file(both))
    assert result.exit_code == 0, result.output
    buck = read_back(tmp_path / "out" / "buck.stl")
    assert trimesh.Trimesh(buck.vertices, buck.faces, process=False).body_count == 1


def test_hole_and_extra_wall_are_mended(make_of, shape, sculpt_file, read_back, tmp_path):
    """A face is missing, and a fin makes an edge of three faces."""
    ball = shape("idol")
    faces = np.delete(ball.faces, 700, axis=0)
    a, b, _ = faces[100]
    tip = ball.vertices[a] + [0, 0, 0.5]
    mesh = Mesh.from_arrays(
        np.vstack([ball.vertices, tip]), np.vstack([faces, [a, b, ball.vertex_count]]).astype(np.int32)
    )
    result = make_of(sculpt_file(mesh))
    assert result.exit_code in (0, 3), result.output
    buck = read_back(tmp_path / "out" / "buck.stl")
    assert trimesh.Trimesh(buck.vertices, buck.faces, process=False).is_watertight
