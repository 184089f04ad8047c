"""Pockets of a face-like relief with flange at the default raster; the goal is 4 s on two cores."""

import numpy as np

from buckwright.relief.raster import Relief
from buckwright.survey.pockets.find_pockets import Pockets, find_pockets, vent_points


def face(pixels: int = 1200, size_mm: float = 250.0) -> Relief:
    x = (np.arange(pixels) + 0.5) / pixels * size_mm - size_mm / 2
    X, Y = np.meshgrid(x, x)
    head = 60 * np.sqrt(np.clip(1 - (X / 75) ** 2 - (Y / 100) ** 2, 0, None))
    on = head > 0
    nose = 15 * np.exp(-((X / 12) ** 2) - ((Y + 5) / 30) ** 2)
    eyes = sum(10 * np.exp(-(((X - s * 30) / 14) ** 2) - ((Y - 25) / 9) ** 2) for s in (-1, 1))
    mouth = 4 * np.exp(-((X / 22) ** 2) - ((Y + 45) / 4) ** 2)
    grain = np.random.default_rng(0).normal(0, 0.03, X.shape)
    height = np.maximum(np.where(on, head + nose - eyes - mouth + grain + 5, 3.0), 3.0)
    return Relief(np.array([x[0], x[0]]), size_mm / pixels, height, np.full(X.shape, -1, np.int32))


def run(relief: Relief) -> Pockets:
    found = find_pockets(relief, min_depth_mm=0.4, sharpest_radius_mm=1.0, foot_mm=3.0)
    vent_points(found)
    return found


def test_face(benchmark):
    relief = face()
    run(relief)
    found = benchmark.pedantic(run, args=(relief,), rounds=3)
    assert len(found.pockets) >= 4
    assert max(found.label.shape) > 320
    assert benchmark.stats.stats.min < 4.0
