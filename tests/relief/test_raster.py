"""The raster against exact columns."""

import numpy as np
import pytest
import trimesh

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of


def bumpy() -> Mesh:
    body = trimesh.creation.icosphere(subdivisions=5, radius=20.0)
    v = np.asarray(body.vertices)
    v = v * (1.0 + 0.15 * np.sin(v[:, [0]] * 0.6) * np.cos(v[:, [1]] * 0.5))
    return Mesh.from_arrays(v, body.faces)


def test_heights_equal_exact_columns_at_pixel_centres() -> None:
    mesh = bumpy()
    relief = relief_of(mesh, pixel_mm=0.31, margin_mm=1.0)
    exact, _ = Columns(mesh).top(relief.centres().reshape(-1, 2))
    raster = relief.height.ravel()
    assert (np.isfinite(exact) == np.isfinite(raster)).all()
    covered = np.isfinite(exact)
    np.testing.assert_allclose(raster[covered], exact[covered], atol=1e-9)
    assert (relief.face.ravel()[~covered] == -1).all()


def test_margin_and_given_bounds() -> None:
    relief = relief_of(bumpy(), pixel_mm=1.0, bounds_xy=np.array([[-5.0, -5.0], [5.0, 5.0]]))
    assert relief.height.shape == (10, 10)
    row, column = relief.pixel_of(np.array([[0.2, -4.9], [99.0, 99.0]]))
    assert (row[0], column[0]) == (0, 5)
    assert (row[1], column[1]) == (9, 9)


def test_needle_faces_cost_what_they_cover() -> None:
    """A fan of slanting needles 1 km long: clipped rows, right heights."""
    ends = np.array([[1e6, y, 0.0] for y in np.linspace(-1.0, 1.0, 50)])
    vertices = np.concatenate([[[0.0, 0.0, 1.0]], ends])
    faces = [[0, i, i + 1] for i in range(1, 50)]
    relief = relief_of(Mesh.from_arrays(vertices, faces), pixel_mm=100.0)
    covered = np.isfinite(relief.height)
    assert (relief.height[covered] <= 1.0).all() and (relief.height[covered] >= 0.0).all()


@pytest.mark.parametrize("pixel", [0.0, -1.0, float("nan")])
def test_a_pixel_must_be_positive(pixel: float) -> None:
    with pytest.raises(InputError, match="greater than 0"):
        relief_of(bumpy(), pixel_mm=pixel)


def test_a_raster_that_would_not_fit_is_refused() -> None:
    with pytest.raises(InputError, match="choose a larger one"):
        relief_of(bumpy(), pixel_mm=1e-4)
