"""A run with everything of the print: hollow, in pieces, judged."""

import json

import numpy as np
import trimesh
from manifold3d import Manifold

import buckwright.api as bw
from buckwright.mesh.manifolds import from_manifold


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
    assert sum(one.solid.volume() for one in pieces.pieces) < solid.volume()
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
