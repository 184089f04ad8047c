import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection
from matplotlib.path import Path
from pytest import approx

from buckwright.shape.underside.free_area import free_area


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 9999), st.floats(0.3, 2.0))
def test_free_pixels_agree_with_point_in_polygon(seed, pixel):
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 14))
    radius = rng.uniform(5, 20, 14)
    outline = CrossSection([np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])])
    hole = CrossSection.circle(3, 17).translate((2, 1))
    ground = free_area(outline, keep_out=hole, pixel_mm=pixel)
    points = ground.centres().reshape(-1, 2)
    inside = np.zeros(len(points), bool)
    for polygon in (outline - hole).to_polygons():
        inside ^= Path(polygon).contains_points(points)
    assert np.count_nonzero(inside.reshape(ground.free.shape) != ground.free) <= 1


def test_clearance_never_promises_too_much():
    ground = free_area(CrossSection.circle(20, 360), pixel_mm=0.7)
    clear = ground.clearance_mm()
    true = 20 - np.linalg.norm(ground.centres(), axis=-1)
    assert np.all(clear[ground.free] <= true[ground.free] + 1e-9)
    assert clear.max() == approx(20, abs=1.6)


def test_nothing_is_free_in_an_empty_outline():
    outline = CrossSection.square((1, 1)) - CrossSection.square((2, 2))
    assert not free_area(outline, pixel_mm=1.0).free.any()
