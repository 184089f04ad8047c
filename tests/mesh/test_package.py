"""3MF: every built object where the build puts it, helpers left out, hostile packages refused in bounds."""

import io
import json
import struct
import zipfile

import numpy as np
import pytest

from buckwright.errors import MeshError
from buckwright.mesh.reading import read_sculpt

HEAD = '<?xml version="1.0" encoding="UTF-8"?>'
TETRA = (
    '<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="6" y="0" z="0"/><vertex x="0" y="6" z="0"/>'
    '<vertex x="0" y="0" z="6"/></vertices><triangles><triangle v1="0" v2="2" v3="1"/>'
    '<triangle v1="0" v2="1" v3="3"/><triangle v1="0" v2="3" v3="2"/><triangle v1="1" v2="2" v3="3"/>'
    "</triangles></mesh>"
)


def moved(x=0.0, y=0.0, z=0.0):
    return f'transform="1 0 0 0 1 0 0 0 1 {x} {y} {z}"'


def model(objects, items, head=HEAD):
    space = (
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" '
        'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"'
    )
    inner = f"<resources>{objects}</resources><build>{items}</build>"
    return f'{head}<model unit="millimeter" {space}>{inner}</model>'


def holding(number, inner, kind="model"):
    return f'<object id="{number}" type="{kind}">{inner}</object>'


def parts(*references):
    return "<components>" + "".join(f"<component objectid={one}/>" for one in references) + "</components>"


def package(folder, main, **others):
    path = folder / "sculpt.3mf"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", main)
        for name, text in others.items():
            archive.writestr(f"3D/Objects/{name}.model", text)
    return path


def test_all_hundred_nested_components_come_in(tmp_path):
    """Ten rows of ten, four levels deep, each object used more than once."""
    objects = holding(1, TETRA)
    objects += holding(2, parts(*(f'"1" {moved(10 * k)}' for k in range(5))))
    objects += holding(3, parts(f'"2" {moved()}', f'"2" {moved(50)}'))
    objects += holding(4, parts(*(f'"3" {moved(0, 10 * k)}' for k in range(5))))
    items = f'<item objectid="4"/><item objectid="4" {moved(0, 50)}/>'
    mesh = read_sculpt(package(tmp_path, model(objects, items))).mesh
    assert mesh.face_count == 400
    assert mesh.volume_mm3() == pytest.approx(100 * 36.0)
    assert mesh.size == pytest.approx([96, 96, 6])


def test_an_object_may_hold_a_mesh_and_components_in_other_parts(tmp_path):
    inner = model(holding(7, TETRA), "")
    objects = holding(1, parts(f'"7" p:path="/3D/Objects/inner.model" {moved(20)}', '"2"')) + holding(
        2, TETRA
    )
    mesh = read_sculpt(package(tmp_path, model(objects, '<item objectid="1"/>'), inner=inner)).mesh
    assert mesh.face_count == 8
    assert mesh.size == pytest.approx([26, 6, 6])


def test_turns_are_applied_from_the_inside_out(tmp_path):
    quarter = 'transform="0 1 0 -1 0 0 0 0 1 0 0 0"'
    objects = holding(1, TETRA) + holding(2, parts(f'"1" {moved(100)}'))
    mesh = read_sculpt(package(tmp_path, model(objects, f'<item objectid="2" {quarter}/>'))).mesh
    assert mesh.bounds[0] == pytest.approx([-6, 100, 0])
    assert mesh.bounds[1] == pytest.approx([0, 106, 6])


@pytest.mark.parametrize("kind", ["support", "solidsupport", "other"])
def test_helpers_of_a_print_are_left_out_and_told(tmp_path, kind):
    objects = holding(1, TETRA) + holding(2, TETRA, kind) + holding(3, parts('"1"', '"2"'))
    items = f'<item objectid="3"/><item objectid="2" {moved(50)}/><item objectid="1" {moved(20)}/>'
    sculpt = read_sculpt(package(tmp_path, model(objects, items)))
    assert sculpt.mesh.face_count == 8
    assert sculpt.notes == (f"Left out 2 objects of type '{kind}': not part of the sculpt.",)
    with pytest.raises(MeshError, match="no triangles"):
        read_sculpt(package(tmp_path, model(objects, '<item objectid="2"/>')))


def test_surfaces_come_in(tmp_path):
    sculpt = read_sculpt(package(tmp_path, model(holding(1, TETRA, "surface"), '<item objectid="1"/>')))
    assert sculpt.mesh.face_count == 4
    assert sculpt.notes == ()


def chain(levels, width):
    """Objects of which each holds the one below `width` times."""
    objects = holding(1, TETRA)
    for level in range(2, levels + 2):
        objects += holding(level, parts(*[f'"{level - 1}" {moved(level)}'] * width))
    return model(objects, f'<item objectid="{levels + 1}"/>')


@pytest.mark.parametrize(
    ("main", "words"),
    [
        (chain(60, 2), "triangles; at most"),
        (chain(16, 2).replace(TETRA, "<mesh/>"), "places 131071 objects"),
        (chain(5000, 1), "deeper than 100 levels"),
        (model(holding(1, parts('"2"')) + holding(2, parts('"1"')), '<item objectid="1"/>'), "itself"),
        (model(holding(1, TETRA), '<item objectid="9"/>'), "'9' is not there"),
        (model(holding(1, TETRA), '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 nan 0 0"/>'), "twelve"),
        (model(holding(1, TETRA), '<item objectid="1" transform="1e300 0 0 0 1 0 0 0 1 0 0 0"/>'), "twelve"),
        (model(holding(1, TETRA), '<item objectid="1" transform="1 0 0 0 1 0 0 0 1"/>'), "twelve numbers"),
        (chain(30, 1).replace("1 0 0 0 1", "1e9 0 0 0 1"), "multiply beyond all measure"),
        (model(holding(1, TETRA.replace('"6"', '"1e20"')), '<item objectid="1"/>'), "coordinates beyond 1e"),
        (model(holding(1, TETRA.replace('"6"', '"1e400"')), '<item objectid="1"/>'), "not finite"),
        (model(holding(1, TETRA.replace('"6"', '"six"')), '<item objectid="1"/>'), "cannot be read as 3MF"),
        (model(holding(1, TETRA.replace('v1="1"', 'v1="4"')), '<item objectid="1"/>'), "not there"),
        (model("<x>" * 200 + "</x>" * 200, ""), "elements deeper than 100"),
        (model("", "", HEAD + '<!DOCTYPE a [<!ENTITY b "c">]>'), "document type"),
        (model(holding(1, TETRA), '<item objectid="1"/>')[:-300], "cannot be read as 3MF"),
    ],
    ids=range(16),
)  # fmt: skip
def test_packages_beyond_measure_are_refused(tmp_path, main, words):
    with pytest.raises(MeshError, match=words):
        read_sculpt(package(tmp_path, main))


def test_an_external_entity_is_not_opened(tmp_path):
    (tmp_path / "secret").write_text("42")
    head = HEAD + f'<!DOCTYPE a [<!ENTITY b SYSTEM "file://{tmp_path}/secret">]>'
    with pytest.raises(MeshError, match="document type"):
        read_sculpt(package(tmp_path, model(holding(1, TETRA), "&b;", head)))


def glb(table, *, deep=False):
    text = ("[" * 100_000 if deep else json.dumps(table)).encode()
    text += b" " * (-len(text) % 4)
    return b"glTF" + struct.pack("<II", 2, 20 + len(text)) + struct.pack("<I", len(text)) + b"JSON" + text


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (glb({}, deep=True), "nested too deep"),
        (glb({"accessors": [{"count": 10**12}]}), "values"),
        (glb({"nodes": [{}] * 20_000}), "places 20000 objects"),
        (glb({"nodes": [{"children": [k + 1]} for k in range(5000)]}), "deeper than 100"),
        (glb({"nodes": [{"children": [0]}]}), "circle"),
        (glb({"nodes": [{"children": [1] * 20_000}, {}]}), "in no tree"),
        (glb([]), "cannot be read as GLB"),
    ],
    ids=range(7),
)
def test_scenes_beyond_measure_are_refused(tmp_path, data, words):
    path = tmp_path / "sculpt.glb"
    path.write_bytes(data)
    with pytest.raises(MeshError, match=words):
        read_sculpt(path)


@pytest.mark.parametrize("bad", [np.nan, 1e300])
def test_transforms_of_a_scene_are_finite(tmp_path, bad):
    import trimesh

    scene = trimesh.Scene()
    matrix = np.eye(4)
    matrix[0, 3] = 5.0
    scene.add_geometry(trimesh.creation.box((10, 10, 10)), transform=matrix)
    data = scene.export(file_type="glb")
    length = struct.unpack("<I", data[12:16])[0]
    table = json.loads(data[20 : 20 + length])
    for node in table["nodes"]:
        if "matrix" in node:
            node["matrix"][12] = bad
    text = json.dumps(table).encode()
    text += b" " * (-len(text) % 4)
    rest = data[20 + length :]
    path = tmp_path / "sculpt.glb"
    path.write_bytes(
        b"glTF" + struct.pack("<III", 2, 20 + len(text) + len(rest), len(text)) + b"JSON" + text + rest
    )
    with pytest.raises(MeshError, match=r"finite numbers|cannot be read"):
        read_sculpt(path)


def test_many_entries_are_refused(tmp_path):
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("3D/3dmodel.model", "")
        for k in range(10_000):
            archive.writestr(f"{k}", "")
    (tmp_path / "many.3mf").write_bytes(held.getvalue())
    with pytest.raises(MeshError, match="10001 entries"):
        read_sculpt(tmp_path / "many.3mf")
