"""The other one of a pair: mirrored as a shape, with lettering that reads right."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold

from buckwright.errors import InputError
from buckwright.job import Job
from buckwright.mesh.reading import Sculpt
from buckwright.pipeline.run import run
from buckwright.pose.mirroring import mirrored_frame
from buckwright.shape.solid import as_mesh, as_solid, united
from buckwright.shape.underside.engraving import engraving_tools

CORNERS = [[0, 0, 0], [60, 0, 0], [60, 40, 0], [0, 40, 0], [8, 8, 25], [30, 8, 25], [30, 30, 12], [8, 30, 25]]
PLAIN = {
    "pull": {"direction": "z"},
    "base": {"sink_mm": 0.0},
    "fit": {"shrinkage": 0.0},
    "forecast": {"quality": "off"},
    "vents": {"enabled": False},
}


def made(mesh, out=None, **tables):
    job = Job(**{**PLAIN, "job": {"name": "R2"}, **tables})
    job = job.with_sculpt(Sculpt(mesh, "stl", "mm"))
    return run("make", job, out, pictures=False)


@pytest.fixture(scope="module")
def lopsided():
    return as_mesh(Manifold.hull_points(np.array(CORNERS, float)))


@pytest.fixture(scope="module")
def pair(lopsided):
    edge = {"rivets_mm": [[12.0, 12.0, 20.0]]}
    return made(lopsided, edge=edge), made(lopsided, edge=edge, sculpt={"mirror": "x"})


def test_the_twin_is_the_mirror_image(pair):
    one, twin = (outcome.results["posed"] for outcome in pair)
    assert as_solid(twin.mesh).volume() == pytest.approx(as_solid(one.mesh).volume(), rel=1e-12)
    assert np.allclose(twin.mesh.vertices, one.mesh.vertices * [-1.0, 1.0, 1.0], atol=1e-12)
    image = as_solid(one.mesh).mirror((1.0, 0.0, 0.0))
    assert (as_solid(twin.mesh) - image).volume() < 1e-6
    assert (as_solid(one.mesh) - as_solid(twin.mesh)).volume() > 100.0  # it is no mirror image of itself


def test_the_sculpt_is_left_alone_and_places_on_it_follow(pair):
    one, twin = pair
    assert np.array_equal(*(each.results["posed"].sculpt.mesh.vertices for each in pair))
    (hole,), (other,) = (outcome.results["holed"] for outcome in pair)
    assert other.at_mm == pytest.approx((-hole.at_mm[0], *hole.at_mm[1:]), abs=1e-6)
    assert np.array_equal(one.faces["state"], twin.faces["state"])  # each face of the file, as it was given


def test_lettering_reads_right_on_both(pair):
    """It lies on the underside of either as on the other, wherever there is room for it."""
    tools = [engraving_tools(outcome.results["grooved"].engraving) for outcome in pair]
    one, twin = (
        united(tool).translate([-side for side in united(tool).bounding_box()[:3]]) for tool in tools
    )
    assert one.volume() > 1.0
    assert (twin - one).volume() < 1e-6 * one.volume()
    image = one.mirror((1.0, 0.0, 0.0)).translate((one.bounding_box()[3], 0.0, 0.0))
    assert (twin - image).volume() > 0.1 * one.volume()


def test_an_axis_along_the_pull_is_refused(lopsided):
    with pytest.raises(InputError, match="mirror across x or y"):
        made(lopsided, sculpt={"mirror": "z"})


@given(
    st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1),
    st.sampled_from("xyz"),
)
def test_it_mirrors_and_keeps_the_pull(direction, axis):
    way = np.array(direction) / np.linalg.norm(direction)
    if abs(way["xyz".index(axis)]) > 0.999:
        return
    frame = mirrored_frame(way, axis)
    assert np.allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(frame) == pytest.approx(-1.0)
    assert np.allclose(frame @ way, [0.0, 0.0, 1.0], atol=1e-9)
