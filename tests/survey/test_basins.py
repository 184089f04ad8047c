import heapq

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import ndimage

from buckwright.survey.pockets.basins import closed_basins


def border(shape):
    edge = np.zeros(shape, bool)
    edge[[0, -1]] = edge[:, [0, -1]] = True
    return edge


def flooded(height, drained):
    """Water level over each pixel by a priority flood: an independent way to spill heights."""
    level = np.where(drained, height, np.inf)
    heap = [(height[i, j], i, j) for i, j in np.argwhere(drained)]
    heapq.heapify(heap)
    while heap:
        at, i, j = heapq.heappop(heap)
        for a, b in ((i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)):
            if 0 <= a < height.shape[0] and 0 <= b < height.shape[1] and level[a, b] == np.inf:
                level[a, b] = max(at, height[a, b])
                heapq.heappush(heap, (level[a, b], a, b))
    return level


@settings(deadline=None)  # the first example compiles the kernel
@given(arrays(np.int64, (9, 11), elements=st.integers(0, 12)))
def test_outer_basins_equal_a_priority_flood(heights):
    height, drained = heights.astype(float), border(heights.shape)
    basins = closed_basins(height, drained=drained, least_depth=1.0)
    level = flooded(height, drained)
    ponds, count = ndimage.label(level > height)
    spills = {(basin.bottom, basin.spill) for basin in basins}
    for pond in range(1, count + 1):
        inside = ponds == pond
        top = level[inside].max()
        lowest = height[inside].min()
        bottoms = np.flatnonzero((inside & (height == lowest)).ravel())
        assert any((int(bottom), top) in spills for bottom in bottoms)
    for basin in basins:
        assert basin.spill <= level.ravel()[basin.bottom]
        assert basin.region.ravel()[basin.bottom]


def test_two_bowls_join_at_the_saddle():
    x = np.linspace(-10, 10, 81)
    X, Y = np.meshgrid(x, x)
    height = np.minimum(np.hypot(X - 4, Y) - 3, np.hypot(X + 4, Y) - 2)
    basins = closed_basins(height, drained=border(height.shape), least_depth=0.5)
    # Derived: cone tips at -3 and -2; the cones meet at x = -0.5 and height 1.5; they leave the square
    # first at x = 10, height 6 - 3.
    assert [round(basin.spill, 2) for basin in basins] == [1.5, 3.0]
    bottoms = [height.ravel()[basin.bottom] for basin in basins]
    assert bottoms == pytest.approx([-2, -3], abs=1e-9)


def test_noise_under_the_least_depth_makes_no_basin():
    rng = np.random.default_rng(1)
    height = rng.uniform(0, 0.1, (60, 60))
    assert closed_basins(height, drained=border(height.shape), least_depth=0.1) == []
    assert closed_basins(height, drained=border(height.shape), least_depth=0.05)


def test_a_drain_at_the_bottom_empties_the_basin():
    x = np.linspace(-1, 1, 21)
    height = np.add.outer(x**2, x**2)
    edge = border(height.shape)
    height[edge] = 2.0
    height[0, 0] = -1.0
    (basin,) = closed_basins(height, drained=np.zeros_like(edge) | (height < 0), least_depth=0.1)
    assert basin.bottom == 10 * 21 + 10
    edge = height < 0
    edge[10, 10] = True
    assert closed_basins(height, drained=edge, least_depth=0.1) == []


def test_no_drain_no_pixels():
    assert closed_basins(np.zeros((0, 0)), drained=np.zeros((0, 0), bool), least_depth=1.0) == []
    assert closed_basins(np.ones((3, 3)), drained=np.zeros((3, 3), bool), least_depth=1.0) == []
