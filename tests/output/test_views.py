"""Where things land in a view, and what hides what."""

import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.views import FRONT, RIGHT, SHARPNESS, TOP, UNDERSIDE, oblique, take

SLANT = oblique("slant", "from a slant", azimuth_deg=-35.0, elevation_deg=35.0)


@pytest.mark.parametrize("view", [TOP, FRONT, RIGHT, UNDERSIDE, SLANT])
def test_views_are_rotations(view) -> None:
    assert np.allclose(view.turn @ view.turn.T, np.eye(3))
    assert np.linalg.det(view.turn) == pytest.approx(1.0)  # a mirror would turn engraved words round


def test_what_is_right_and_up() -> None:
    point = np.array([1.0, 2.0, 3.0])
    assert (TOP.turn @ point).tolist() == [1, 2, 3]
    assert (FRONT.turn @ point).tolist() == [1, 3, -2]
    assert (RIGHT.turn @ point).tolist() == [2, 3, 1]
    assert (UNDERSIDE.turn @ point).tolist() == [1, -2, -3]
    level = oblique("front", "", azimuth_deg=0.0, elevation_deg=0.0)
    assert np.allclose(level.turn, FRONT.turn)
    assert np.allclose(oblique("right", "", azimuth_deg=90.0, elevation_deg=0.0).turn, RIGHT.turn)


@pytest.mark.parametrize("view", [TOP, FRONT, RIGHT, UNDERSIDE, SLANT])
def test_picture_of_a_ball(sculpt: Mesh, view) -> None:
    shot = take(sculpt, view, width=300 / SHARPNESS, height=200 / SHARPNESS)
    rows, columns = shot.depth.shape
    assert rows <= 200 and columns <= 300
    assert shot.face.shape == (2 * rows, 2 * columns)
    # The area of a disc, less what a polyhedron with 96 sides lacks.
    seen = np.isfinite(shot.depth).sum() * shot.pixel_mm**2
    assert seen == pytest.approx(np.pi * 30**2, rel=0.01)
    middle = shot.depth[rows // 2, columns // 2]
    assert middle == pytest.approx(float(view.turn[2] @ [0, 0, 30.0]) + 30.0, abs=0.1)


def test_near_side_hides_the_far_side(sculpt: Mesh) -> None:
    shot = take(sculpt, FRONT, width=300 / SHARPNESS, height=300 / SHARPNESS)
    points = np.array([[0.0, -30.0, 30.0], [0.0, 30.0, 30.0], [500.0, 0.0, 0.0]])
    assert shot.is_seen(points, slack_mm=0.1).tolist() == [True, False, True]


def test_empty_mesh_gives_an_empty_shot() -> None:
    shot = take(
        Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), np.int32)),
        TOP,
        width=50 / SHARPNESS,
        height=50 / SHARPNESS,
    )
    assert (shot.face == -1).all()
