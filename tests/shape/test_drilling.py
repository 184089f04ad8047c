import numpy as np
import pytest
from manifold3d import Manifold, OpType
from pytest import approx

from buckwright.errors import SolidError
from buckwright.relief.columns import Columns
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.shape.vents.drilling import SEGMENTS, check_drilled, drilled, vent_tools
from buckwright.shape.vents.face_hole import face_hole
from buckwright.shape.vents.placing import plan_vents
from buckwright.shape.vents.vent import BoreSizes

SPOTS = np.array([[x, y, 0.0] for x in (-27.1, -9.3, 9.2, 27.4) for y in (-24.2, 1.1, 24.3)])


def plan(mesh, when_small="hole", **sizes):
    face = face_hole(sheet_mm=0.75, low_mm=0.5, high_mm=1.0, when_small=when_small)
    return plan_vents(SPOTS, range(len(SPOTS)), Columns(mesh), face=face, bores=BoreSizes(**sizes))


@pytest.mark.parametrize(("opening", "tunnels"), [("hole", 12), ("slot", 12), ("dimple", 0)])
def test_each_through_vent_adds_one_tunnel(hills, opening, tunnels):
    mesh, solid = hills
    made = plan(mesh, opening)
    assert len(made.vents) == 12
    result = drilled(solid, made)
    assert made.face.opening == opening
    assert result.genus() == tunnels
    assert len(result.decompose()) == 1
    assert result.volume() < solid.volume()


def test_a_stepped_drill_takes_the_volume_of_its_cylinders_and_cone(terrain):
    mesh = terrain(lambda x, y: 20.0 + 0 * x)
    made = plan(mesh)
    solid = as_solid(mesh)
    lost = (solid.volume() - drilled(solid, made).volume()) / len(made.vents)
    share = SEGMENTS / (2 * np.pi) * np.sin(2 * np.pi / SEGMENTS)
    wide, thin, cone = 2.0, 0.375, 1.625
    frustum = cone / 3 * (wide**2 + wide * thin + thin**2)
    assert lost == approx(np.pi * share * (wide**2 * (17 - cone) + frustum + thin**2 * 3), rel=1e-6)


def test_a_dimple_leaves_its_skin_closed(hills):
    mesh, solid = hills
    made = plan(mesh, "dimple")
    after = drilled(solid, made)
    columns = Columns(as_mesh(after))
    top, _ = columns.top(made.axes)
    faces = np.array([vent.top_mm[2] for vent in made.vents])
    assert top == approx(faces - 0.6, abs=1e-6)
    below, _ = columns.below(np.column_stack([made.axes + 1e-4, top]))
    assert np.all(top - below >= 3.0 - 0.6 - 0.01)


@pytest.mark.parametrize("opening", ["dimple", "hole", "slot"])
def test_beside_a_wall_no_opening_undercuts_it(terrain, opening):
    mesh = terrain(lambda x, y: np.where(x > 0.2, 40.0, 20.0), side=30.0, count=301)
    face = face_hole(sheet_mm=0.75, low_mm=0.5, high_mm=1.0, when_small=opening)
    made = plan_vents(np.array([[-0.3, 0.05, 20.0]]), [0], Columns(mesh), face=face)
    assert made.vents[0].moved_mm == 0
    after = as_mesh(drilled(as_solid(mesh), made))
    columns = Columns(after)
    hidden = after.centroids()[(after.area_vectors()[:, 2] > 1e-9) & (after.centroids()[:, 2] > 18)]
    assert np.all(columns.above(hidden) == -np.inf), "all that looks up is seen from above"


def test_tools_of_different_vents_keep_apart(hills):
    tools = vent_tools(plan(hills[0]))
    for i, tool in enumerate(tools):
        for other in tools[i + 1 :]:
            assert tool.min_gap(other, 2.0) >= 1.6 - 1e-6


def test_a_vent_that_misses_is_noticed(hills):
    mesh, solid = hills
    made = plan(mesh)
    with pytest.raises(SolidError, match="11 were found"):
        check_drilled(solid, Manifold.batch_boolean([solid, *vent_tools(made)[1:]], OpType.Subtract), made)
    with pytest.raises(SolidError, match="nothing"):
        check_drilled(solid, Manifold(), made)


def test_drilling_is_repeatable(hills):
    mesh, solid = hills
    first, second = (drilled(solid, plan(mesh)).to_mesh64() for _ in range(2))
    assert np.array_equal(first.vert_properties, second.vert_properties)
    assert np.array_equal(first.tri_verts, second.tri_verts)
