"""A solid is surveyed alike however it is cut into triangles."""

from types import SimpleNamespace

import numpy as np
import pytest
from manifold3d import Manifold
from pytest import approx

from buckwright.mesh.splitting import cut_faces
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh
from buckwright.survey.draft import FaceState
from buckwright.survey.surveying import Surveyed, survey

LIMITS = SimpleNamespace(low=0.01, high=0.03, source="made up", mark="judgement")


def table() -> Manifold:
    """A board on one leg over a larger foot."""
    leg = Manifold.cube((8, 8, 40)).translate((20, 20, 3))
    return Manifold.cube((100, 80, 4)) + leg + Manifold.cube((60, 50, 5)).translate((10, 8, 40))


def roof() -> Manifold:
    """A roof off the middle of its foot."""
    wall = Manifold.cube((10, 60, 40)).translate((10, 20, 0))
    return Manifold.cube((100, 100, 5)) + wall + Manifold.cube((50, 60, 5)).translate((10, 20, 38))


def wedge_roof() -> Manifold:
    """A roof that rises away from its wall."""
    rising = Manifold.hull_points(
        [(x, y, z) for x, heights in ((0, (30, 45)), (31, (42, 45))) for z in heights for y in (2, 58)]
    )
    return Manifold.cube((60, 60, 5)) + Manifold.cube((10, 60, 31)) + rising


SOLIDS = {"table": table, "roof": roof, "wedge roof": wedge_roof}
# Roof from below, what it shades of the foot, and the walls under it.
TRAPPED_MM2 = {
    "table": 2 * (60 * 50 - 64) + 4 * 8 * 36,
    "roof": 2 * 40 * 60 + 33 * 60,
}


def surveyed(mesh: Mesh) -> Surveyed:
    return survey(mesh, wanted_deg=3.0, sheet_mm=1.0, allowable=LIMITS)


def trapped_mm2(found: Surveyed) -> float:
    return found.states.trapped_share * found.states.judged_mm2


@pytest.mark.parametrize("name", SOLIDS)
def test_coarse_and_fine_triangles_agree(name):
    coarse = as_mesh(SOLIDS[name]())
    first = surveyed(coarse)
    for over_mm in (20.0, 4.0, 0.9):
        other = surveyed(cut_faces(coarse, np.ones(coarse.face_count, bool), over_mm=over_mm)[0])
        assert trapped_mm2(other) == approx(trapped_mm2(first), rel=0.01)
        assert other.release.widest_mm == approx(first.release.widest_mm, rel=0.01)
        assert other.undercuts.regions[0].volume_mm3 == approx(
            first.undercuts.regions[0].volume_mm3, rel=0.01
        )


@pytest.mark.parametrize("name", TRAPPED_MM2)
def test_trapped_area_is_the_true_one(name):
    assert trapped_mm2(surveyed(as_mesh(SOLIDS[name]()))) == approx(TRAPPED_MM2[name], rel=0.01)


def test_a_face_tells_of_the_worst_of_its_parts():
    mesh = as_mesh(table())
    found = surveyed(mesh)
    assert found.parts is not None
    worst = found.of_faces
    assert len(worst.state) == len(worst.region) == mesh.face_count
    for face in range(mesh.face_count):
        mine = found.parts.source == face
        states = set(found.states.state[mine].tolist())
        assert (worst.state[face] == FaceState.TRAPPED) == (FaceState.TRAPPED in states)
        assert worst.depth_mm[face] == found.reach.depth_mm[mine].max()
        assert worst.sideways_mm[face] == found.sideways[mine].max()
    floor = (mesh.corners()[:, :, 2] == 4.0).all(axis=1)
    assert (worst.state[floor] == FaceState.TRAPPED).any()
    assert found.free_faces[floor].all()
    assert set(worst.region[worst.state == FaceState.TRAPPED].tolist()) == {0}


def test_a_fine_mesh_is_asked_as_it_is():
    ball = as_mesh(Manifold.sphere(20.0, 600).trim_by_plane((0, 0, 1), 0.0))
    found = surveyed(ball)
    assert found.parts is None
    assert np.array_equal(found.of_faces.state, found.states.state)
