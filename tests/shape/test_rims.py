"""Which edges carry walls of fill."""

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold
from pytest import approx

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.rims import Rims, find_rims
from buckwright.shape.solid import as_mesh
from buckwright.survey.draft import draft_deg

FULL = {"enough_deg": 5.0, "wall_deg": 5.0, "tolerance_mm": 0.02}
KEEP = FULL | {"enough_deg": -0.01}


def rims_of(body: Manifold | Mesh, **how) -> Rims:
    mesh = body if isinstance(body, Mesh) else as_mesh(body)
    return find_rims(mesh, Columns(mesh), draft_deg(mesh), **(FULL | how))


def length(rims: Rims) -> float:
    step = rims.segments[:, 3:] - rims.segments[:, :3]
    return float(np.linalg.norm(step, axis=1).sum())


def away_from_axis(rims: Rims) -> np.ndarray:
    middle = (rims.segments[:, :2] + rims.segments[:, 3:5]) / 2
    return np.einsum("ij,ij->i", middle, rims.outward) / np.linalg.norm(middle, axis=1)


def cap(radius: float = 9.0, under: float = 10.0, sides: int = 48) -> Manifold:
    post = Manifold.cylinder(under + 1, 3, 3, sides)
    return post + Manifold.cylinder(5, radius, radius, sides).translate((0, 0, under))


def test_top_edges_of_a_box():
    rims = rims_of(Manifold.cube((30, 20, 25)).translate((-15, -10, 0)))
    assert len(rims.segments) == 4
    assert length(rims) == approx(100.0)
    assert (rims.segments[:, [2, 5]] == 25.0).all()
    assert not rims.leaning.any()
    np.testing.assert_allclose(np.linalg.norm(rims.outward, axis=1), 1.0)
    assert (away_from_axis(rims) > 0.99).all()
    # the foot of a plumb wall stands back by h tan(draft)
    assert rims.gap_mm == approx((25 * np.tan(np.radians(5.0)), 0.0))


def test_a_coarse_box_whose_upright_faces_only_touch_the_ground_counts():
    """Its walls have no vertex between the top edge and the ground."""
    assert len(rims_of(Manifold.cube((8, 8, 2))).segments) == 4


def test_upright_walls_are_left_alone_when_tight_faces_stay():
    assert not len(rims_of(Manifold.cube((30, 20, 25)), **KEEP).segments)


@pytest.mark.parametrize("turn", [0.0, 17.3, 45.0])
def test_lower_edge_of_an_upright_wall_over_a_void(turn):
    """The wall's upper edge lies exactly above: the whole ring counts, not the half that rounding leaves."""
    rims = rims_of(cap().rotate((0, 0, turn)).translate((0.1, 0.2, 0)), **KEEP)
    assert len(rims.segments) == 48
    assert rims.segments[:, [2, 5]] == approx(10.0)
    assert rims.leaning.all()
    assert (away_from_axis(rims) > 0.95).all()


def test_edges_under_a_roof_do_not_count():
    both = cap(9.0, 10.0) + Manifold.cylinder(3, 6, 6, 48)  # a low disc wholly under the cap
    assert (rims_of(both).segments[:, 2] > 14.9).all()
    wide = cap(9.0, 10.0) + Manifold.cylinder(3, 14, 14, 48)  # one that looks out on all sides
    heights = np.unique(rims_of(wide).segments[:, 2].round(6))
    np.testing.assert_allclose(heights, [3.0, 15.0])


def turned(radii: np.ndarray, step: float) -> Manifold:
    z = np.arange(len(radii)) * step
    return Manifold.revolve(CrossSection([[(0, 0), *zip(radii, z, strict=True), (0, z[-1])]]), 32)


@pytest.mark.parametrize("recess", [0.01, 0.03])
def test_a_groove_counts_from_the_tolerance_on(recess):
    """The wall stands back behind the cone of the groove's upper edge by exactly `recess` at its bottom."""
    run = np.tan(np.radians(5.0))
    radii = 20.0 - np.arange(21) * 0.5 * np.tan(np.radians(8.0))
    radii[10] = radii[11] + 0.5 * run - recess
    rims = rims_of(turned(radii, 0.5), tolerance_mm=0.02)
    if recess > 0.02:
        assert rims.gap_mm == approx((recess, 0.0), abs=1e-9 + recess * 0.01)
        assert len(rims.segments) >= 32
    else:
        assert not len(rims.segments)
        assert rims.gap_mm == approx((0.0, recess), abs=1e-9 + recess * 0.02)


def test_only_rims_over_wanted_faces():
    mesh = as_mesh(Manifold.cube((30, 20, 25)).translate((-15, -10, 0)))
    side = mesh.area_vectors()[:, 0] > 1.0
    rims = rims_of(mesh, wanted_faces=side)
    np.testing.assert_allclose(rims.segments[:, [0, 3]], 15.0)
    np.testing.assert_allclose(rims.outward, [[1.0, 0.0]] * len(rims.segments), atol=1e-12)
    assert not len(rims_of(mesh, wanted_faces=np.zeros(mesh.face_count, bool)).segments)


def test_order_of_the_faces_does_not_matter():
    mesh = as_mesh(cap())
    order = np.random.default_rng(0).permutation(mesh.face_count)
    one, other = rims_of(mesh), rims_of(Mesh(mesh.vertices, mesh.faces[order]))
    np.testing.assert_array_equal(sorted(one.segments.tolist()), sorted(other.segments.tolist()))
    assert one.gap_mm == other.gap_mm


def test_open_and_empty_meshes():
    mesh = as_mesh(Manifold.cube((30, 20, 25)))
    lid_off = Mesh(mesh.vertices, mesh.faces[mesh.area_vectors()[:, 2] < 1.0])
    assert not len(rims_of(lid_off).segments)
    nothing = rims_of(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)))
    assert not len(nothing.segments) and nothing.gap_mm == (0.0, 0.0)
