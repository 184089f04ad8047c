"""Regions: areas, volumes and angles of shapes that can be worked out by hand."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.shape.solid import as_mesh
from buckwright.survey.regions import Undercuts, undercut_regions
from buckwright.survey.sideways import sideways_mm
from buckwright.survey.undercut import find_trapped


def block(size: tuple[float, float, float], low: tuple[float, float, float]) -> Manifold:
    return Manifold.cube(list(size)).translate(list(low))


def regions_of(
    solid: Manifold | Mesh, *, floor_z: float | None = None, pixel_mm: float = 0.2, **options: float
) -> Undercuts:
    mesh = solid if isinstance(solid, Mesh) else as_mesh(solid)
    columns = Columns(mesh)
    reach = find_trapped(mesh, columns, floor_z=float(mesh.bounds[0, 2]) if floor_z is None else floor_z)
    sideways = sideways_mm(mesh, reach, columns, relief_of(mesh, pixel_mm=pixel_mm))
    return undercut_regions(mesh, reach, sideways, columns, **options)  # type: ignore[arg-type]


def mushroom(at: float = 0.0, wide: float = 60.0) -> Manifold:
    """A stem of 20 x 20 x 30 mm under a square cap 10 mm thick."""
    half = wide / 2
    return (block((wide, wide, 10), (-half, -half, 30)) + block((20, 20, 35), (-10, -10, 0))).translate(
        [at, 0, 0]
    )


@pytest.mark.parametrize("split", [1, 10])
def test_mushroom(split: int) -> None:
    found = regions_of(mushroom().refine(split))
    (region,) = found.regions
    assert region.area_mm2 == pytest.approx(60**2 - 20**2 + 4 * 20 * 30)
    assert region.volume_mm3 == pytest.approx((60**2 - 20**2) * 30)
    assert (region.z_low, region.z_high) == pytest.approx((0.0, 30.0))
    # a stem that is divided finely has places lower down, and nearer to the middle of its side
    assert region.depth_mm == pytest.approx(40.0 - {1: 10.0, 10: 1.0}[split])
    assert region.sideways_mm == pytest.approx(20.0, abs=0.2)
    assert region.plan_diameter_mm == pytest.approx(240.0 / math.pi)
    assert region.encircles_deg == pytest.approx(360.0)
    assert region.reaches_floor
    assert found.speck_count == 0
    assert set(found.region_of_face) == {-1, 0}


def test_round_cap_has_its_diameter() -> None:
    cap = Manifold.cylinder(5.0, 25.0, 25.0, 256).translate([0, 0, 20]) + Manifold.cylinder(
        22.0, 15.0, 15.0, 256
    )
    (region,) = regions_of(cap).regions
    assert region.plan_diameter_mm == pytest.approx(50.0, rel=1e-3)
    assert region.volume_mm3 == pytest.approx(math.pi * (25**2 - 15**2) * 20, rel=1e-3)
    assert region.sideways_mm == pytest.approx(10.0, abs=0.25)


def test_a_lug_on_one_side() -> None:
    """A lug of 8 mm sticks out of one wall, well above the floor."""
    solid = block((40, 40, 50), (-20, -20, 0)) + block((10, 12, 6), (18, -6, 20))
    (region,) = regions_of(solid.refine(12)).regions
    assert region.volume_mm3 == pytest.approx(8 * 12 * 20, rel=1e-6)
    # the middle of its root is 8 mm from the end of the lug and 6 mm from its sides
    assert region.sideways_mm == pytest.approx(6.0, abs=0.5)
    # the faces of the wall under the lug are up to 40 / 12 mm wide
    least, most = (2 * math.degrees(math.atan2(half, 20)) for half in (6, 6 + 40 / 12))
    assert least - 1e-6 <= region.encircles_deg <= most + 1e-6
    assert region.reaches_floor
    assert region.centre_mm[0] == pytest.approx(20.0, abs=0.5)


@pytest.mark.parametrize("ledge", [0.01, 1.0, 10.0])
def test_a_shelf_above_a_ledge_however_low_does_not_reach_the_floor(ledge: float) -> None:
    solid = (
        block((60, 60, ledge), (-30, -30, 0))
        + block((20, 20, 30), (-10, -10, ledge / 2))
        + block((40, 40, 5), (-20, -20, 30))
    )
    (region,) = regions_of(solid.refine(12)).regions
    assert not region.reaches_floor
    # the space ends on the ledge, not on the floor
    assert region.volume_mm3 == pytest.approx((40**2 - 20**2) * (30 - ledge), rel=1e-3)


def test_worst_comes_first_and_specks_are_pooled() -> None:
    solid = mushroom(0.0, 30.0) + mushroom(100.0, 60.0) + mushroom(200.0, 20.06)
    found = regions_of(solid)
    assert [round(region.sideways_mm) for region in found.regions] == [20, 5]
    assert found.speck_count == 1
    assert found.speck_area_mm2 == pytest.approx(20.06**2 - 20**2 + 4 * 20 * 30)
    assert found.regions[0].centre_mm[0] == pytest.approx(100.0, abs=12.0)
    all_listed = regions_of(solid, speck_under_mm2=0.0, speck_under_mm=0.0)
    assert len(all_listed.regions) == 3
    small = regions_of(solid, speck_under_mm2=3000.0)
    assert len(small.regions) == 1


def test_faces_know_their_region() -> None:
    mesh = as_mesh(mushroom(0.0, 30.0) + mushroom(100.0, 60.0))
    found = regions_of(mesh)
    areas = np.linalg.norm(mesh.area_vectors(), axis=1)
    for place, region in enumerate(found.regions):
        mine = found.region_of_face == place
        assert areas[mine].sum() == pytest.approx(region.area_mm2)
        assert mine.sum() == region.faces


@settings(max_examples=25, deadline=None)
@given(st.floats(5.0, 355.0), st.floats(0.0, 360.0), st.integers(1, 40))
def test_angle_of_a_sector(width: float, turn: float, pieces: int) -> None:
    """A hanging sector of a ring covers its own angle, wherever it begins."""
    pieces = max(pieces, int(width // 60) + 1)
    angles = np.radians(turn + np.linspace(0.0, width, pieces + 1))
    rim = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(pieces + 1)])
    inner, outer = 30.0 * rim + [0, 0, 5], 40.0 * rim + [0, 0, 5]
    count = pieces + 1
    k = np.arange(pieces)
    down = np.concatenate(
        [np.column_stack([k, k + 1, k + count]), np.column_stack([k + 1, k + 1 + count, k + count])]
    )
    roof = np.concatenate([inner, outer]) + np.array([0, 0, 1])
    faces = np.concatenate([down, down[:, ::-1] + 2 * count])
    mesh = Mesh.from_arrays(np.concatenate([inner, outer, roof]), faces)
    columns = Columns(mesh)
    reach = find_trapped(mesh, columns)
    assert reach.leaning.any()
    sideways = np.where(reach.trapped, 1.0, 0.0)
    (region,) = undercut_regions(mesh, reach, sideways, columns, axis_xy=(0.0, 0.0)).regions
    assert region.encircles_deg == pytest.approx(width, abs=1e-6)


def test_scale_and_translation() -> None:
    solid = mushroom() + Manifold.sphere(12.0, 40).translate([60, 0, 25])
    one = regions_of(solid).regions
    two = regions_of(solid.scale([3.0, 3.0, 3.0]).translate([40, -70, 15]), pixel_mm=0.6).regions
    assert len(one) == len(two) == 2
    for a, b in zip(one, two):
        assert b.area_mm2 == pytest.approx(9 * a.area_mm2)
        assert b.volume_mm3 == pytest.approx(27 * a.volume_mm3, rel=1e-6)
        assert b.sideways_mm == pytest.approx(3 * a.sideways_mm, rel=0.02)
        assert b.plan_diameter_mm == pytest.approx(3 * a.plan_diameter_mm)
        assert b.reaches_floor == a.reaches_floor


def test_no_undercuts_and_empty() -> None:
    dome = Manifold.sphere(10.0, 24).trim_by_plane([0.0, 0.0, 1.0], 0.0)
    assert regions_of(dome).regions == ()
    empty = regions_of(Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), int)), floor_z=0.0)
    assert (empty.regions, empty.speck_count, empty.speck_area_mm2) == ((), 0, 0.0)


def test_record_has_the_keys_of_the_report() -> None:
    record = regions_of(mushroom()).regions[0].to_dict()
    assert {"area_mm2", "depth_mm", "sideways_mm", "centre_mm"} <= record.keys()
    assert len(record["centre_mm"]) == 3
