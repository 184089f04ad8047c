"""Cracks under thin lips are plugged, lips and clean solids are left alone."""

import numpy as np
import pytest
from manifold3d import Manifold, OpType
from scipy.spatial import cKDTree

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.cracks import _to_the_mouth, crack_plugs
from buckwright.shape.solid import as_mesh, as_solid, united

SEA = 0.05
"""How near the open sky must be."""


def block() -> Manifold:
    """A block with draft."""
    low, high = ((-10, 10, 0.0), (-8, 8, 20.0))
    return Manifold.hull_points([(x, y, z) for a, b, z in (low, high) for x in (a, b) for y in (a, b)])


def slot(depth: float, high: float = 0.3) -> Manifold:
    """A slot into the side of the block, 1 mm wide, its floor sloping so that it looks up."""
    return Manifold.cube((depth + 2.0, 1.0, high)).translate((9.0 - depth, -0.5, 10.0))


def covered_share(solid: Manifold) -> float:
    """Share of random points at the height of the slot's floor, inside its outline, that are hollow."""
    mesh = as_mesh(solid)
    points = np.random.default_rng(0).uniform((7.5, -0.45, 10.1), (8.8, 0.45, 10.2), (500, 3))
    columns = Columns(mesh)
    floor, _ = columns.below(points)
    above = ~columns.clear(points)
    return float((above & (floor < 10.05) & (floor > 9.9)).mean())


def test_a_crack_is_plugged():
    cracked = block() - slot(1.5)
    plugs = crack_plugs(as_mesh(cracked), open_within_mm=SEA)
    assert plugs
    mended = united([cracked, *plugs])
    assert mended.volume() > cracked.volume() + 0.3
    assert covered_share(cracked) > 0.9
    assert covered_share(mended) == 0.0
    assert len(mended.decompose()) == 1
    # plugs stay in the crack's own columns, a hair wider
    extra = mended - block()
    assert extra.is_empty() or extra.volume() < 0.1


def test_a_plug_is_rooted_under_the_floor_and_ends_under_the_top():
    cracked = as_mesh(block() - slot(1.5))
    top = Columns(cracked).top
    for plug in crack_plugs(cracked, open_within_mm=SEA):
        corners = as_mesh(plug).vertices
        assert corners[:, 2].min() == pytest.approx(10.0 - 1.0, abs=1e-6)
        low = corners[:, 2] < 9.5
        over, _ = top(0.9 * corners[~low, :2] + 0.1 * corners[~low, :2].mean(axis=0))
        under = (over - corners[~low, 2])[np.isfinite(over)]
        assert len(under) and under.min() > 0.0 and under.max() < 0.3 + 0.1


def test_nothing_is_left_to_plug():
    cracked = block() - slot(1.5) - slot(1.2).rotate((0, 0, 90)) - slot(0.8, high=4.0).translate((0, 3, 2))
    whole = united([cracked, *crack_plugs(as_mesh(cracked), open_within_mm=SEA)])
    assert crack_plugs(as_mesh(whole), open_within_mm=SEA) == []


def test_specks_are_left_alone():
    """A slit that no sheet gets into: plugs as narrow would leave slivers that are plugged again."""
    for wide, held in ((1e-7, False), (0.01, True)):
        slit = Manifold.cube((3.5, wide, 0.3)).translate((7.5, -wide / 2, 10.0))
        assert bool(crack_plugs(as_mesh(block() - slit), open_within_mm=SEA)) == held


def nicked() -> Mesh:
    """A crack whose floor is two faces that share one corner; the one beside open sky is open by itself."""
    floor = np.array([[0, 0, 5], [0.03, 0, 5], [0, 0.03, 5], [0.5, 0.5, 5], [-0.5, 0.5, 5]], float)
    roof = np.array([[-1, -0.001, 6], [1, -0.001, 6], [1, 1, 6], [-1, 1, 6]], float)
    return Mesh.from_arrays(np.concatenate([floor, roof]), [[0, 1, 2], [2, 3, 4], [5, 6, 7], [5, 7, 8]])


def test_faces_that_touch_by_a_corner_hang_together():
    mesh = nicked()
    assert _to_the_mouth(mesh, np.array([0, 1]), np.array([1])).tolist() == [0, 1]
    assert _to_the_mouth(mesh, np.array([0, 1, 2, 3]), np.array([1])).tolist() == [0, 1]


@pytest.mark.parametrize("body", [block(), Manifold.sphere(10, 64).trim_by_plane((0, 0, 1), 0)])
def test_clean_solids_get_no_plugs(body):
    assert crack_plugs(as_mesh(body), open_within_mm=SEA) == []


def test_shallow_lips_are_left_alone():
    """From the back of a lip 0.03 mm deep the sky is open within 0.05 mm."""
    low, high = Manifold.cube((20, 20, 10)), Manifold.cube((20.06, 20.06, 10)).translate((-0.03, -0.03, 9.9))
    lipped = low + high.trim_by_plane((0, 0, 1), 10.0) + Manifold.cube((30, 30, 2)).translate((-5, -5, 0))
    assert crack_plugs(as_mesh(lipped), open_within_mm=SEA) == []


def test_low_steps_are_left_alone():
    """A foil on the block that hangs over its side: a step of half a thin print layer holds no sheet."""
    for high, held in ((0.04, False), (0.06, True), (0.16, True)):
        low = Manifold.cube((20, 20, 10))
        ledge = Manifold.cube((0.5, 20, 10 - high / 2)).translate((19.9, 0, 0))
        foil = Manifold.cube((20.4, 20, high / 2)).translate((0, 0, 10))
        assert bool(crack_plugs(as_mesh(low + ledge + foil), open_within_mm=SEA)) == held


def test_closed_cavities_are_no_cracks():
    hollow = block() - Manifold.cube((2, 2, 2)).translate((0, 0, 8))
    assert crack_plugs(as_mesh(hollow), open_within_mm=SEA) == []


def test_vertices_that_the_sky_sees_are_not_covered():
    """Narrow slots close under the edge of the top, where prisms a hair too wide could rise over it."""
    low, high = Manifold.cube((20, 20, 10)), Manifold.cube((20, 20, 0.02)).translate((0, 0, 10.2))
    slit = Manifold.cube((18, 18, 0.2)).translate((0.5, 0.5, 10.0))
    wedges = [
        Manifold.cube((0.2, 3, 0.3)).rotate((0, 20, 30 * n)).translate((19, 4 * n, 10.1)) for n in range(5)
    ]
    body = (
        low
        + high
        + Manifold.cube((19, 19, 0.25)).translate((0, 0, 9.98))
        + Manifold.batch_boolean(wedges, OpType.Add)
    )
    mesh = as_mesh(body - slit - slot(1.5).translate((10.5, 10, -0.5)))
    plugs = crack_plugs(mesh, open_within_mm=SEA)
    assert plugs
    seen = mesh.vertices[Columns(mesh).clear(mesh.vertices)]
    mended = as_mesh(united([as_solid(mesh), *plugs]))
    assert cKDTree(mended.vertices).query(seen)[0].max() < 1e-4


def test_order_of_the_faces_does_not_matter():
    mesh = as_mesh(block() - slot(1.5))
    order = np.random.default_rng(1).permutation(mesh.face_count)
    one = crack_plugs(mesh, open_within_mm=SEA)
    other = crack_plugs(Mesh(mesh.vertices, mesh.faces[order]), open_within_mm=SEA)
    assert sorted(plug.volume() for plug in one) == pytest.approx(sorted(plug.volume() for plug in other))
