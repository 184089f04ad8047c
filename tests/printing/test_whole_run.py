"""A run with everything of the print: hollow, in pieces, judged."""

import json

import lib3mf
import numpy as np
import pytest
import trimesh
from manifold3d import Manifold, OpType

import buckwright.api as bw
from buckwright.mesh.manifolds import from_manifold
from buckwright.printing.amounts import amounts_of
from buckwright.printing.pieces.lands import filled
from buckwright.printing.settings import PrinterSettings, PrintSettings


def test_a_hollow_buck_in_pieces(tmp_path):
    dome = from_manifold(Manifold.sphere(40.0, 32).trim_by_plane((0.0, 0.0, 1.0), 0.0))
    made = bw.make(
        (dome.vertices, dome.faces),
        sculpt={"unit": "mm"},
        pull={"direction": "z"},
        forecast={"quality": "off"},
        hollow={"kind": "ribbed", "wall_mm": 3.0},
        printer={"bed_mm": (90.0, 90.0)},
        print={"material": "PETG"},
    )
    solid = made.results["buck"].solid
    pieces = made.results["pieces"]
    assert pieces.split and all(max(one.size_mm) <= 90.0 for one in pieces.pieces)
    report = made.report
    assert report["buck"]["watertight"] and report["buck"]["crossing_pairs"] == 0
    cavity = report["hollow"]["cavity_mm3"]
    assert cavity > 0.4 * (2.0 / 3.0 * np.pi * 40.0**3)
    assert report["hollow"]["spacing_mm"] == 30.0
    assert report["strength"]["panel_mm"] == 30.0 - 2.4
    assert report["strength"]["material"] == "PETG" and report["strength"]["skin_holds"]
    # put together they are the buck on the outside; inside their joints are solid, with pins
    together = Manifold.batch_boolean([one.solid for one in pieces.pieces], OpType.Add)
    full = filled(solid, made.results["hollowed"].solid)
    assert (together - full).volume() < 1e-6 * full.volume()
    assert solid.volume() < together.volume() < 0.75 * full.volume()
    assert all(len(joint.pins) == 2 for joint in pieces.joints if joint.area_mm2 > 1000.0)
    # every cell is open to the platen or to its neighbours: nothing is shut in
    for one in pieces.pieces:
        assert len(one.solid.decompose()) == 1 and one.solid.volume() > 0.0
    told = report["print"]["saved_by_hollow"]
    solid_print = amounts_of(full, PrintSettings(material="PETG"), PrinterSettings())
    hollow_print = amounts_of(solid, PrintSettings(material="PETG"), PrinterSettings())
    assert told["volume_mm3"] == pytest.approx(full.volume() - solid.volume(), rel=1e-5)
    assert told["mass_g"] == pytest.approx(solid_print.mass_g - hollow_print.mass_g, rel=1e-4)
    assert told["time_h"][1] == pytest.approx(solid_print.time_h[1] - hollow_print.time_h[1], rel=1e-4)
    made.save(tmp_path)
    names = {path.name for path in tmp_path.iterdir()}
    assert {"plate_1.3mf", "piece_A.stl", "piece_B.stl", "pieces_top.png", "pieces_slant.png"} <= names
    assert set(json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))["files"]) >= {
        "plate_1.3mf",
        "piece_A.stl",
    }
    for name in names:
        if name.startswith(("piece_", "pin_")) and name.endswith(".stl"):
            body = trimesh.load(tmp_path / name)
            assert body.is_watertight and abs(body.bounds[0][2]) < 1e-4
    wanted = sorted(one.name for one in (*pieces.pieces, *pieces.pins))
    assert sorted(name.split(" ", 1)[1] for name in named_in_plates(tmp_path, pieces.plates)) == wanted


def named_in_plates(folder, plates):
    """Names of the objects of all plates, read by two independent readers, which must agree."""
    names = []
    for number in range(1, plates + 1):
        path = folder / f"plate_{number}.3mf"
        model = lib3mf.get_wrapper().CreateModel()
        model.QueryReader("3mf").ReadFromFile(str(path))
        objects, here = model.GetMeshObjects(), []
        while objects.MoveNext():
            one = objects.GetCurrentMeshObject()
            assert one.IsManifoldAndOriented()
            here.append(one.GetName())
        scene = trimesh.load(path)
        assert sorted(scene.geometry) == sorted(here)
        assert all(body.is_watertight for body in scene.geometry.values())
        low, high = scene.bounds
        assert (low[:2] >= 4.0 - 1e-3).all() and (high[:2] <= 86.0 + 1e-3).all()
        names += here
    return sorted(names)
