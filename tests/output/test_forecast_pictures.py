"""Pictures of the forecast: they can be read back as pictures, and the cut shows what is there."""

import io

import numpy as np
import pytest
from matplotlib import colormaps
from PIL import Image

from buckwright.forming.forecast.pictures import ForecastScene, _cut_buck, _cut_sheet, draw_forecast
from buckwright.mesh.triangles import Mesh

SIDE = 41


def tent() -> Mesh:
    """A sheet over a ridge along y, 20 mm high, from 60 x 60 mm."""
    ticks = np.linspace(-30.0, 30.0, SIDE)
    x, y = np.meshgrid(ticks, ticks, indexing="xy")
    z = 20.0 - 20.0 / 30.0 * np.abs(x)
    at = np.arange(SIDE * SIDE).reshape(SIDE, SIDE)
    a, b, c, d = at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, 1:].ravel(), at[1:, :-1].ravel()
    faces = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Mesh.from_arrays(np.column_stack([x.ravel(), y.ravel(), z.ravel()]), faces)


@pytest.fixture(scope="module")
def scene() -> ForecastScene:
    sheet = tent()
    x, y, z = sheet.vertices.T
    thickness = np.where(np.abs(x) < 15.0, 0.75, 0.3)
    order = np.where(np.abs(x) > 29.0, np.nan, 1.0 - z / 20.0)
    points = np.array([[-30, -10, 0], [30, -10, 0], [0, -10, 20], [-30, 10, 0], [30, 10, 0], [0, 10, 20.0]])
    faces = [[0, 1, 2], [3, 5, 4], [0, 3, 4], [0, 4, 1], [1, 4, 5], [1, 5, 2], [2, 5, 3], [2, 3, 0]]
    thinnest = sheet.vertices[np.hypot(x - 21.0, y).argmin()]
    buck = Mesh.from_arrays(points, faces)
    return ForecastScene("Ridge", sheet, thickness, 0.75, order, buck, thinnest, 0.3)


def test_all_pictures_come(scene: ForecastScene) -> None:
    shares = []
    pictures = draw_forecast(scene, tick=shares.append)
    assert sorted(pictures) == [
        f"forecast_{name}.png" for name in ("contact", "cut", "front", "right", "top")
    ]
    assert shares == sorted(shares) and shares[-1] == 1.0
    for data in pictures.values():
        assert Image.open(io.BytesIO(data)).size == (1120, 840)


def test_thin_and_thick_have_the_ends_of_the_ramp(scene: ForecastScene) -> None:
    pixels = np.asarray(Image.open(io.BytesIO(draw_forecast(scene)["forecast_top.png"])).convert("RGB"))
    row = pixels[420, 42:777].astype(float)
    hue = row / np.maximum(row.sum(axis=1, keepdims=True), 1.0)
    for share, value in ((0.5, 1.0), (0.1, 0.0), (0.9, 0.0)):
        ramp = np.array(colormaps["cividis"](value)[:3])
        assert np.abs(hue[int(share * len(row))] - ramp / ramp.sum()).max() < 0.05


def test_cut_runs_along_the_sheet(scene: ForecastScene) -> None:
    ends, thick = _cut_sheet(scene, 1, 0.7)
    assert np.allclose(ends[..., 1], 20.0 - 20.0 / 30.0 * np.abs(ends[..., 0]))
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum()
    assert length == pytest.approx(2.0 * np.hypot(30.0, 20.0), rel=1e-9)
    assert thick.min() == pytest.approx(0.3) and thick.max() == pytest.approx(0.75)


def test_cut_of_the_buck_is_its_profile(scene: ForecastScene) -> None:
    (outline,) = _cut_buck(scene.buck, 1, 0.0)
    x, y = outline[:-1].T
    assert abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2 == pytest.approx(600.0)
    assert _cut_buck(scene.buck, 1, 50.0) == []
