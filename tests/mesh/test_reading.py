import io
import struct
import zipfile

import numpy as np
import pytest
import trimesh

from buckwright.errors import MeshError
from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.reading import read_sculpt


@pytest.fixture(scope="module")
def knob():
    ball = trimesh.creation.icosphere(subdivisions=2, radius=30.0)
    return trimesh.Trimesh(ball.vertices * [1.0, 0.8, 1.3] + [5.0, 6.0, 7.0], ball.faces, process=False)


def binary_stl(count, triangles, head=b""):
    return head.ljust(80) + struct.pack("<I", count) + np.asarray(triangles, np.uint8).tobytes()


def body(count, fill=0.0):
    rows = np.zeros(count, [("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    rows["v"] = np.arange(9).reshape(3, 3) ** 2 + fill
    return np.frombuffer(rows.tobytes(), np.uint8)


@pytest.mark.parametrize("kind", ["stl", "stl_ascii", "obj", "ply", "off", "3mf"])
def test_every_format_comes_back_equal(tmp_path, knob, kind):
    path = tmp_path / f"knob.{kind.removesuffix('_ascii')}"
    knob.export(path, file_type=kind)
    sculpt = read_sculpt(path)
    assert sculpt.mesh.face_count == len(knob.faces)
    assert sculpt.mesh.vertex_count == len(knob.vertices)
    assert (edge_table(sculpt.mesh.faces).face_count == 2).all()
    np.testing.assert_allclose(sculpt.mesh.corners(), knob.triangles, atol=4e-6)
    assert sculpt.unit_in_file == ("mm" if kind == "3mf" else None)


def test_glb_is_metres_and_y_up(tmp_path, knob):
    path = tmp_path / "knob.glb"
    knob.export(path)
    sculpt = read_sculpt(path)
    x, y, z = np.moveaxis(np.asarray(knob.triangles), 2, 0)
    np.testing.assert_allclose(sculpt.mesh.corners(), np.stack([x, -z, y], axis=2), atol=4e-6)
    assert sculpt.unit_in_file == "m"
    assert "Z is up" in sculpt.notes[0]


@pytest.mark.parametrize(("name", "unit"), [("inch", "in"), ("micron", "um"), ("meter", "m"), ("foot", "ft")])
def test_3mf_unit_is_taken_from_the_file(tmp_path, knob, name, unit):
    path = tmp_path / "knob.3mf"
    with zipfile.ZipFile(io.BytesIO(knob.export(file_type="3mf"))) as old, zipfile.ZipFile(path, "w") as new:
        for entry in old.namelist():
            new.writestr(entry, old.read(entry).replace(b'unit="millimeter"', f'unit="{name}"'.encode()))
    assert read_sculpt(path).unit_in_file == unit


@pytest.mark.parametrize("kind", ["glb", "3mf"])
def test_objects_of_a_scene_stand_where_the_file_puts_them(tmp_path, kind):
    box = trimesh.creation.box((10, 10, 10))
    scene = trimesh.Scene()
    scene.add_geometry(box)
    scene.add_geometry(box, transform=trimesh.transformations.translation_matrix((100, 0, 0)))
    path = tmp_path / f"two.{kind}"
    scene.export(path)
    mesh = read_sculpt(path).mesh
    assert mesh.face_count == 24
    np.testing.assert_allclose(mesh.size, [110, 10, 10])


def test_obj_quads_and_texture_seams_become_one_closed_mesh(tmp_path):
    path = tmp_path / "cube.obj"
    corners = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
    quads = [(1, 2, 4, 3), (5, 7, 8, 6), (1, 5, 6, 2), (3, 4, 8, 7), (1, 3, 7, 5), (2, 6, 8, 4)]
    lines = [f"v {x} {y} {z}" for x, y, z in corners] + [f"vt {i} 0" for i in range(24)]
    lines += ["f " + " ".join(f"{v}/{4 * i + k + 1}" for k, v in enumerate(q)) for i, q in enumerate(quads)]
    path.write_text("\n".join(lines))
    mesh = read_sculpt(path).mesh
    assert (mesh.vertex_count, mesh.face_count) == (8, 12)
    assert mesh.volume_mm3() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.stl", b"", "is empty"),
        ("a.xyz", b"1 2 3", r"extension \.xyz"),
        ("noext", b"solid", "no extension"),
        ("a.stl", binary_stl(10_000_000, []), "10000000 triangles, the file has room for 0"),
        ("a.stl", binary_stl(3, body(2)), "was cut short"),
        ("a.stl", binary_stl(3, body(3))[:-7], "was cut short"),
        ("a.stl", binary_stl(1, body(2)), "does not match"),
        ("a.stl", binary_stl(3, body(2), b"solid of lies\0"), "was cut short"),
        ("a.stl", binary_stl(0, []), "no triangles"),
        ("a.stl", b"\x01\x02", "header of a binary STL"),
        ("a.stl", b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0", "no 'endsolid'"),
        ("a.stl", b"solid a\nendsolid a\n", "no triangles"),
        ("a.stl", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "holds OBJ"),
        ("a.obj", binary_stl(2, body(2)), "holds STL"),
        ("a.ply", b"OFF\n3 1 0\n", "holds OFF"),
        ("a.off", b"ply\nformat ascii 1.0\n", "holds PLY"),
        ("a.stl", b"glTF" + bytes(200), "holds GLB"),
        ("a.glb", b"PK\x03\x04" + bytes(200), "holds 3MF"),
        ("a.3mf", b"PK\x03\x04" + bytes(200), "cannot be read as 3MF"),
        ("a.glb", b"glTF" + bytes(200), "cannot be read as GLB"),
        ("a.glb", bytes(200), "not a GLB"),
        ("a.off", b"OFF\n3 1 0\n0 0 0\n1 0 0\n", "was cut short"),
        ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "only points|no triangles|cannot be read"),
        ("a.ply", b"ply\nformat ascii 1.0\nelement vertex 2\nproperty float x\nproperty float y\n"
         b"property float z\nend_header\n0 0 0\n1 1 1\n", "only points"),
    ],
)  # fmt: skip
def test_bad_files_are_named(tmp_path, name, content, words):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(MeshError, match=words):
        read_sculpt(path)


def test_missing_file_and_directory(tmp_path):
    with pytest.raises(MeshError, match="does not exist"):
        read_sculpt(tmp_path / "nothing.stl")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(MeshError, match="is a folder"):
        read_sculpt(tmp_path / "folder.stl")


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_coordinates_that_are_not_finite_are_counted(tmp_path, bad):
    rows = np.zeros(5, [("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    rows["v"] = np.arange(45).reshape(5, 3, 3)
    rows["v"][2:4, 1, 0] = bad
    path = tmp_path / "nan.stl"
    path.write_bytes(b"".ljust(80) + struct.pack("<I", 5) + rows.tobytes())
    with pytest.raises(MeshError, match=r"2 of 5 faces .* first at face 2"):
        read_sculpt(path)


def test_stl_text_with_a_word_for_a_number_is_refused(tmp_path):
    path = tmp_path / "word.stl"
    path.write_text(
        "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 one 0\nendloop\n"
        "endfacet\nendsolid a\n"
    )
    with pytest.raises(MeshError, match="cannot be read"):
        read_sculpt(path)


def snapshot(path, vertices, faces, **more):
    np.savez(path, vertices=vertices, faces=faces, **more)
    return path


def test_a_snapshot_keeps_every_face_in_its_place(tmp_path, knob):
    faces = np.asarray(knob.faces, np.int32)
    path = snapshot(tmp_path / "knob.npz", np.asarray(knob.vertices), faces, label=np.arange(3))
    sculpt = read_sculpt(path)
    np.testing.assert_array_equal(sculpt.mesh.faces, faces)
    np.testing.assert_array_equal(sculpt.mesh.vertices, knob.vertices)
    assert (sculpt.format, sculpt.unit_in_file) == ("npz", None)
    loose = snapshot(
        tmp_path / "loose.npz", knob.triangles.reshape(-1, 3), np.arange(len(faces) * 3).reshape(-1, 3)
    )
    welded = read_sculpt(loose).mesh
    assert welded.vertex_count == len(knob.vertices)
    np.testing.assert_array_equal(welded.corners(), knob.triangles)


@pytest.mark.parametrize(
    ("vertices", "faces", "words"),
    [
        (np.eye(3), [[0, 1, 3]], "outside 0..2"),
        (np.eye(3), [[0, 1, -1]], "outside 0..2"),
        (np.eye(3), [[0.0, 1.0, 2.0]], "whole numbers"),
        (np.eye(3, dtype=int), [[0, 1, 2]], "floating numbers"),
        (np.eye(3)[:, :2], [[0, 1, 2]], r"shape \(3, 2\)"),
        (np.eye(3).ravel(), [[0, 1, 2]], r"shape \(9,\)"),
        (np.eye(3), [[0, 1, 2, 1]], r"shape \(1, 4\)"),
        (np.eye(3), np.zeros((0, 3), int), "no triangles"),
        (np.diag([np.nan, 1, 1]), [[0, 1, 2]], "not finite"),
        (np.diag([np.inf, 1, 1]), [[0, 1, 2]], "not finite"),
        (np.full((3, 3), "1"), [[0, 1, 2]], "floating numbers"),
        (np.full((3, 3), {}, object), [[0, 1, 2]], "floating numbers"),
    ],
)
def test_a_snapshot_that_makes_no_sense_is_refused(tmp_path, vertices, faces, words):
    with pytest.raises(MeshError, match=words):
        read_sculpt(snapshot(tmp_path / "odd.npz", vertices, faces))


def test_a_snapshot_without_faces_or_of_another_kind_is_refused(tmp_path):
    np.savez(tmp_path / "half.npz", vertices=np.eye(3))
    with pytest.raises(MeshError, match="no array 'faces'"):
        read_sculpt(tmp_path / "half.npz")
    with zipfile.ZipFile(tmp_path / "words.npz", "w") as archive:
        archive.writestr("vertices.npy", b"not an array")
    with pytest.raises(MeshError, match="no numpy array"):
        read_sculpt(tmp_path / "words.npz")
    (tmp_path / "noise.npz").write_bytes(bytes(range(200)))
    with pytest.raises(MeshError, match="not a NPZ"):
        read_sculpt(tmp_path / "noise.npz")
    np.savez(tmp_path / "named", vertices=np.eye(3), faces=[[0, 1, 2]])
    (tmp_path / "named.npz").rename(tmp_path / "named.3mf")
    with pytest.raises(MeshError, match="holds NPZ"):
        read_sculpt(tmp_path / "named.3mf")


def test_a_snapshot_that_was_cut_short_or_lies_is_refused(tmp_path, knob):
    whole = snapshot(
        tmp_path / "whole.npz", np.asarray(knob.vertices), np.asarray(knob.faces, np.int32)
    ).read_bytes()
    cut = tmp_path / "cut.npz"
    for share in (0.1, 0.5, 0.9, 0.999):
        cut.write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(MeshError, match="cut short or damaged"):
            read_sculpt(cut)
    flipped = bytearray(whole)
    flipped[1000] ^= 255
    cut.write_bytes(flipped)
    with pytest.raises(MeshError, match="damaged"):
        read_sculpt(cut)
    huge = io.BytesIO()
    np.lib.format.write_array_header_1_0(
        huge, {"descr": "<f8", "fortran_order": False, "shape": (1 << 50, 3)}
    )
    with zipfile.ZipFile(cut, "w") as archive:
        archive.writestr("vertices.npy", huge.getvalue() + bytes(72))
    with pytest.raises(MeshError, match="header of 'vertices'"):
        read_sculpt(cut)


def test_a_binary_stl_read_in_pieces_is_the_same(tmp_path, monkeypatch):
    from buckwright.mesh import binary_stl

    ball = trimesh.creation.icosphere(subdivisions=2, radius=20.0)
    path = tmp_path / "ball.stl"
    ball.export(path)
    whole = read_sculpt(path).mesh
    monkeypatch.setattr(binary_stl, "_PIECE", 7)
    pieces = read_sculpt(path).mesh
    np.testing.assert_array_equal(pieces.vertices, whole.vertices)
    np.testing.assert_array_equal(pieces.faces, whole.faces)
    np.testing.assert_allclose(whole.vertices[whole.faces], ball.triangles, atol=1e-5)
