"""Polygons of OBJ, PLY and OFF give true triangles, in time next to linear in their corners."""

import struct
import time

import numpy as np
import pytest

from buckwright.errors import MeshError
from buckwright.mesh import polygons
from buckwright.mesh.checking import check_mesh
from buckwright.mesh.polygons import triangulated
from buckwright.mesh.reading import read_sculpt

L_SHAPE = np.array([(0, 0), (40, 0), (40, 10), (10, 10), (10, 40), (0, 40)], float)  # 700 mm2, rim of 160 mm
ARROW = np.array([(0, 0), (20, 10), (0, 20), (6, 10)], float)


def prism(outline, height=12.5):
    """Points and polygons of a prism over an outline that turns left."""
    count = len(outline)
    points = np.concatenate([np.column_stack([outline, np.full(count, z)]) for z in (0.0, height)])
    sides = [[k, (k + 1) % count, count + (k + 1) % count, count + k] for k in range(count)]
    return points, [list(range(count))[::-1], [count + k for k in range(count)], *sides]


def star(corners):
    angle = np.arange(corners) * 2 * np.pi / corners
    reach = np.where(np.arange(corners) % 2, 30.0, 50.0)
    return np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])


def obj(points, polygons):
    lines = [f"v {x} {y} {z}" for x, y, z in points]
    return "\n".join([*lines, *("f " + " ".join(str(k + 1) for k in ring) for ring in polygons)]).encode()


def off(points, polygons):
    lines = ["OFF # a comment", f"{len(points)} {len(polygons)} 0", *(f"{x} {y} {z}" for x, y, z in points)]
    return "\n".join([*lines, *(f"{len(ring)} " + " ".join(map(str, ring)) for ring in polygons)]).encode()


def ply_head(kind, points, rows, name="face", list_kind="list ushort int vertex_indices"):
    return (
        f"ply\nformat {kind} 1.0\nelement vertex {len(points)}\nproperty double x\nproperty double y\n"
        f"property double z\nelement {name} {rows}\nproperty {list_kind}\nend_header\n"
    ).encode()


def ply_text(points, polygons):
    lines = [f"{x} {y} {z}" for x, y, z in points]
    lines += [f"{len(ring)} " + " ".join(map(str, ring)) for ring in polygons]
    return ply_head("ascii", points, len(polygons)) + "\n".join(lines).encode() + b"\n"


def ply_binary(points, polygons, order="<"):
    name = "binary_little_endian" if order == "<" else "binary_big_endian"
    rings = b"".join(struct.pack(f"{order}H{len(ring)}i", len(ring), *ring) for ring in polygons)
    return ply_head(name, points, len(polygons)) + np.asarray(points, order + "f8").tobytes() + rings


WRITERS = {
    "obj": ("obj", obj),
    "off": ("off", off),
    "ply text": ("ply", ply_text),
    "ply little": ("ply", ply_binary),
    "ply big": ("ply", lambda points, polygons: ply_binary(points, polygons, ">")),
}


def read(folder, kind, data):
    path = folder / f"sculpt.{kind}"
    path.write_bytes(data)
    return read_sculpt(path).mesh


@pytest.mark.parametrize("form", WRITERS)
@pytest.mark.parametrize("start", range(6))
def test_an_l_prism_has_its_true_area_from_whatever_corner(tmp_path, form, start):
    kind, write = WRITERS[form]
    mesh = read(tmp_path, kind, write(*prism(np.roll(L_SHAPE, start, axis=0))))
    area = np.linalg.norm(mesh.area_vectors(), axis=1).sum()
    assert area == pytest.approx(2 * 700 + 160 * 12.5)  # 3400 mm2
    assert mesh.volume_mm3() == pytest.approx(700 * 12.5)
    assert check_mesh(mesh).clean


@pytest.mark.parametrize("start", range(4))
def test_concave_quads_are_cut_along_the_right_diagonal(tmp_path, start):
    mesh = read(tmp_path, "obj", obj(*prism(np.roll(ARROW, start, axis=0))))
    x, y = ARROW.T
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    assert mesh.volume_mm3() == pytest.approx(area * 12.5)
    assert check_mesh(mesh).clean


def test_convex_polygons_keep_the_plain_fan():
    outline = np.column_stack([star(10)[::2], np.zeros(5)])
    quad = np.array([0, 1, 2, 3])
    made = triangulated(outline, np.concatenate([np.arange(5), quad]), np.array([5, 4]))
    assert made.tolist() == [[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 1, 2], [2, 3, 0]]


@pytest.mark.parametrize("form", ["obj", "off", "ply text", "ply little"])
def test_sixteen_thousand_corners_take_next_to_no_time(tmp_path, form):
    kind, write = WRITERS[form]
    spent = []
    for corners in (4000, 16000):
        outline = star(corners)
        data = write(*prism(outline))
        begun = time.process_time()
        mesh = read(tmp_path, kind, data)
        spent.append(time.process_time() - begun)
        x, y = outline.T
        area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
        assert mesh.volume_mm3() == pytest.approx(area * 12.5)
    assert spent[1] < 2.0
    assert spent[1] < 12.0 * max(spent[0], 0.15)


def comb(teeth):
    """An outline of thin teeth, wound to the left."""
    x = np.arange(teeth) * 1.0
    tips = np.stack([np.stack([x, x * 0.0], 1), np.stack([x + 0.3, x * 0.0 + 10.0], 1)], 1).reshape(-1, 2)
    return np.concatenate([tips, [[teeth, -1.0], [-1.0, -1.0]]])[::-1]


def whole(outline):
    """Twice the area of an outline."""
    x, y = outline.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def in_line(outline, parts=4):
    """The same outline with more corners on its sides."""
    share = np.arange(parts)[None, :, None] / parts
    return (outline[:, None] + (np.roll(outline, -1, axis=0) - outline)[:, None] * share).reshape(-1, 2)


LONG = [star(2000), comb(1000), comb(1000)[:, ::-1][::-1], in_line(comb(500)), in_line(star(1500))]


@pytest.mark.parametrize("outline", LONG, ids=len)
def test_long_polygons_need_no_slower_cut(outline, monkeypatch):
    monkeypatch.setattr(polygons, "capped_faces", None)
    points = np.column_stack([outline, 0.2 * outline[:, 0]])
    cut = triangulated(points, np.arange(len(outline)), np.array([len(outline)]))
    assert len(cut) == len(outline) - 2
    a, b, c = (outline[cut[:, k]] for k in range(3))
    u, v = b - a, c - a
    areas = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    assert areas.min() > -1e-12
    assert set(cut.ravel()) == set(range(len(outline)))
    assert areas.sum() == pytest.approx(whole(outline), rel=1e-12)


def test_corners_in_line_are_kept():
    corners = np.array([[0, 0], [30, 0], [30, 10], [10, 10], [10, 40], [0, 40]], float)
    nexts = np.roll(corners, -1, axis=0)
    outline = np.concatenate(
        [a + (b - a) * np.arange(5)[:, None] / 5 for a, b in zip(corners, nexts, strict=True)]
    )
    cut = triangulated(np.column_stack([outline, np.zeros(30)]), np.arange(30), np.array([30]))
    assert set(cut.ravel()) == set(range(30)) and len(cut) == 28
    a, b, c = (outline[cut[:, k]] for k in range(3))
    u, v = b - a, c - a
    assert np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum() == pytest.approx(whole(outline))


@pytest.mark.parametrize("form", ["text", "binary"])
def test_triangle_strips_are_read(tmp_path, form):
    # a band of twelve corners closed to a ring, and two lids; -1 ends a strip
    count = 12
    angle = np.arange(count) * 2 * np.pi / count
    ring = np.column_stack([20 * np.cos(angle), 20 * np.sin(angle)])
    points = np.concatenate([np.column_stack([ring, np.full(count, z)]) for z in (0.0, 10.0)])
    band = [k % count + lift for k in range(count + 1) for lift in (count, 0)]
    zigzag = [k for j in range(count // 2) for k in (j, count - 1 - j)]
    lid, base = [count + k for k in (zigzag[0], *zigzag)], zigzag
    strip = [*band, -1, *lid, -1, *base]
    if form == "text":
        data = ply_head("ascii", points, 1, "tristrips", "list int int vertex_indices")
        data += "\n".join(f"{x} {y} {z}" for x, y, z in points).encode()
        data += f"\n{len(strip)} {' '.join(map(str, strip))}\n".encode()
    else:
        data = ply_head("binary_little_endian", points, 1, "tristrips", "list int int vertex_indices")
        data += points.astype("<f8").tobytes() + struct.pack(f"<i{len(strip)}i", len(strip), *strip)
    mesh = read(tmp_path, "ply", data)
    facts = check_mesh(mesh)
    assert facts.closed
    assert facts.inconsistent_edges == 0
    assert abs(mesh.volume_mm3()) == pytest.approx(0.5 * count * 400 * np.sin(2 * np.pi / count) * 10)


@pytest.mark.parametrize("form", WRITERS)
def test_what_was_cut_short_is_refused(tmp_path, form):
    kind, write = WRITERS[form]
    if kind == "obj":
        pytest.skip("an OBJ counts nothing")
    data = write(*prism(L_SHAPE)).rstrip(b"\n") if "text" in form or kind == "off" else write(*prism(L_SHAPE))
    for share in (0.97, 0.9, 0.7, 0.5):
        cut = data[: int(len(data) * share)]
        cut = cut[: cut.rfind(b"\n")] if "text" in form or kind == "off" else cut
        with pytest.raises(MeshError, match="cut short"):
            read(tmp_path, kind, cut)


def test_negative_numbers_textures_and_continued_lines_of_an_obj(tmp_path):
    text = (
        b"mtllib none.mtl\r\nv 0 0 0\r\nv 10 0 0 1.0\r\nv 0 10 0 0.5 0.5 0.5\r\nvt 0 0\r\nvn 0 0 1\r\n"
        b"f -3/1/1 \\\n -1//1 -2/1\r\nv 0 0 10\r\nf 1 2 4\r\nf 2 3 -1\r\nf 3 1 -1\r\n"
    )
    mesh = read(tmp_path, "obj", text)
    assert mesh.volume_mm3() == pytest.approx(1000 / 6)
    assert check_mesh(mesh).clean


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 0\n"),
        ("obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -4\n"),
        ("obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 99999999999999999999\n"),
        ("obj", b"v 0 0 0\nv 1 0\nv 0 1 0\nf 1 2 3\n"),
        ("obj", b"v 0 0 0\nv 1 0 zero\nv 0 1 0\nf 1 2 3\n"),
        ("off", b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 7\n"),
        ("off", b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 x\n"),
        ("off", b"OFF\n-3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"),
        ("ply", ply_head("ascii", np.eye(3), 1) + b"1 0 0\n0 1 0\n0 0 1\n3 0 1 7\n"),
        ("ply", ply_head("ascii", np.eye(3), 1) + b"1 0 0\n0 1 0\n0 0 1\n3 0 1 x\n"),
        ("ply", b"ply\nformat ascii 1.0\nelement vertex 1\nproperty quaternion x\nend_header\n"),
        ("ply", b"ply\nformat ascii 1.0\nelement vertex -1\nproperty float x\nend_header\n"),
        ("ply", b"ply\nformat ascii 1.0\n"),
    ],
)
def test_text_that_makes_no_sense_is_refused(tmp_path, kind, data):
    with pytest.raises(MeshError, match=f"cannot be read as {kind.upper()}"):
        read(tmp_path, kind, data)


@pytest.mark.parametrize(
    ("limit", "outline", "fault"),
    [
        ("_MOST_CORNERS", star(1200), "turns inward"),
        ("_MOST_CROSSING", star(1200)[np.r_[0:3, 500, 4:500, 3, 501:1200]], "crosses itself"),
    ],
)
def test_a_polygon_beyond_all_measure_is_refused(tmp_path, monkeypatch, limit, outline, fault):
    monkeypatch.setattr(polygons, limit, 1000)
    with pytest.raises(MeshError, match=f"a polygon of 1200 corners that {fault}"):
        read(tmp_path, "obj", obj(*prism(outline)))
