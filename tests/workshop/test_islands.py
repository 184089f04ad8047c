"""Bodies that stand apart on one base: each has a trim line of its own beside the one round all."""

import manifold3d
import numpy as np
import pytest

import buckwright.api as bw
from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.output.job_sheet.edge import edge_rows
from buckwright.workshop.edge.openings import island_rings
from buckwright.workshop.edge.trim_curve import island_curve

FLOOR, TALL = 10.0, 40.0
PLACES = ((-50.0, 25.0, 18.0), (40.0, 18.0, 14.0))
"""Of the middle, and radii at foot and top."""


def bodies(grown=0.0, places=PLACES, floor=FLOOR, sides=256):
    """Cones, wider by some amount."""
    return [
        manifold3d.Manifold.cylinder(TALL, low + grown, high + grown, sides).translate((x, 0.0, floor))
        for x, low, high in places
    ]


def mesh_of(*solids):
    return from_manifold(manifold3d.Manifold.batch_boolean(list(solids), manifold3d.OpType.Add))


def buck():
    return mesh_of(manifold3d.Manifold.cube((170.0, 80.0, FLOOR)).translate((-85.0, -40.0, 0.0)), *bodies())


def radius(place, z):
    _, low, high = place
    return low + (high - low) * (z - FLOOR) / TALL


def test_each_body_has_a_ring_and_one_alone_has_none():
    rings = island_rings(buck(), FLOOR, FLOOR + 4.0)
    assert len(rings) == 2
    for ring, place in zip(rings, PLACES, strict=True):
        assert np.hypot(ring[:, 0] - place[0], ring[:, 1]) == pytest.approx(radius(place, 14.0), abs=0.02)
    base = manifold3d.Manifold.cube((170.0, 80.0, FLOOR)).translate((-85.0, -40.0, 0.0))
    assert island_rings(mesh_of(base, bodies()[0]), FLOOR, FLOOR + 4.0) == ()
    board = manifold3d.Manifold.cube((130.0, 40.0, FLOOR + 2.0)).translate((-70.0, -20.0, 0.0))
    assert island_rings(mesh_of(base, board, *bodies()), FLOOR, FLOOR + 4.0) == ()  # a low board joins them
    tiny = ((0.0, 4.0, 4.0), PLACES[0])
    assert island_rings(mesh_of(base, *bodies(places=tiny)), FLOOR, FLOOR + 4.0) == ()


@pytest.mark.parametrize("bridged", [False, True])
def test_on_a_forecast_sheet_the_line_goes_round_its_own_body(bridged):
    """A sheet half a millimetre off the walls, with a fold from body to body."""
    fold = [manifold3d.Manifold.cube((90.0, 4.0, 30.0)).translate((-50.0, -2.0, FLOOR))] if bridged else []
    sheet = mesh_of(*bodies(0.5), *fold)
    for wall, place in zip(island_rings(buck(), FLOOR, FLOOR + 4.0), PLACES, strict=True):
        curve = island_curve(sheet, np.full(sheet.vertex_count, 0.6), wall, sheet_mm=1.0)
        away = np.hypot(curve.points[:, 0] - place[0], curve.points[:, 1]) - radius(place, 14.0)
        assert curve.source == "forecast" and set(curve.thickness_mm) == {0.6} and not curve.opening
        assert np.median(away) == pytest.approx(0.5, abs=0.03)
        assert away.max() == pytest.approx(2.0 if bridged else 0.5, abs=0.06)


def test_where_no_sheet_goes_round_a_body_its_wall_counts():
    far = Mesh.from_arrays(bodies()[0].to_mesh().vert_properties[:, :3], bodies()[0].to_mesh().tri_verts)
    wall = island_rings(buck(), FLOOR, FLOOR + 4.0)[1]
    assert island_curve(far, np.ones(far.vertex_count), wall, sheet_mm=1.0).source == "wall"


def test_papers_and_printed_edge_of_each_body(tmp_path):
    mesh = mesh_of(*bodies(floor=0.0, sides=48))
    made = bw.make(
        (mesh.vertices, mesh.faces),
        sculpt={"unit": "mm"},
        pull={"direction": "z"},
        forecast={"quality": "off"},
        edge={"profile": "u"},
        vents={"enabled": False},
        underside={"engrave": False},
    )
    edge = made.report["edge"]
    assert len(edge["islands"]) == 2 and edge["openings"] == []
    for told, (_, low, high) in zip(edge["islands"], PLACES, strict=True):
        wide = low + (high - low) * told["gauge_mm"] / TALL
        assert told["trim_line_mm"] == pytest.approx(2.0 * np.pi * wide, rel=0.02)  # it shrinks by less
    made.save(tmp_path, pictures=False)
    papers = {one.name for one in tmp_path.iterdir()}
    for n in (1, 2):
        assert {f"edge_island_{n}.stl", f"paper_strip_island_{n}.dxf", f"edge_strip_island_{n}.svg"} <= papers
        assert f"height_gauge_island_{n}.dxf" in papers
    assert [label for label, _ in edge_rows(made.report)][-2:] == [
        "Body 1, if cut out by itself",
        "Body 2, if cut out by itself",
    ]
