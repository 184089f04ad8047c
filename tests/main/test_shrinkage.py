"""The allowance for shrinkage as it comes out of the machine: measured in the written buck of a whole job."""

import numpy as np
import pytest
from manifold3d import Manifold
from scipy.spatial import cKDTree

from buckwright.shape.solid import as_mesh

PLAIN = {
    "fill": {"mode": "none"},
    "vents": {"enabled": False},
    "base": {"engrave": False, "fixing": "none"},
    "forecast": {"quality": "off"},
}
OVER_FOOT_MM = 0.05  # the base reaches 0.02 mm up round the foot


@pytest.fixture(scope="module")
def tower():
    """A block of 44 x 30 x 12 mm with drafted walls, and a lopsided turret up to 25 mm."""
    block = [(x * w, y * (w - 7), z) for z, w in ((0, 22), (12, 20)) for x in (-1, 1) for y in (-1, 1)]
    turret = Manifold.cylinder(25, 9, 4, 24).translate((7, -2, 0))
    return as_mesh(Manifold.hull_points(np.array(block, dtype=float)) + turret)


@pytest.fixture(scope="module")
def formed_on(run, sculpt_file, read_back, tower):
    """Corners of the buck over the foot of its part, as written to the STL, from that foot."""

    def corners(**tables):
        outcome, folder = run(sculpt_file(tower), **PLAIN, **tables)
        part = read_back(folder / "buck.stl").vertices - [0, 0, outcome.report["base"]["foot_z_mm"]]
        return part[part[:, 2] > OVER_FOOT_MM]

    return corners


@pytest.mark.parametrize("shrinkage", [0.0, 0.004, 0.03])
def test_a_part_that_shrinks_on_cooling_meets_the_sculpt(formed_on, tower, shrinkage):
    buck = formed_on(fit={"shrinkage": shrinkage})
    sculpt = tower.vertices[tower.vertices[:, 2] > OVER_FOOT_MM]
    wide, tall = np.ptp(sculpt[:, :2], axis=0), sculpt[:, 2].max()
    assert np.ptp(buck[:, :2], axis=0) == pytest.approx(wide / (1 - shrinkage), abs=1e-4)
    assert buck[:, 2].max() == pytest.approx(tall / (1 - shrinkage), abs=1e-4)
    cold = buck - shrinkage * buck  # every length loses that share of itself
    cold[:, :2] += sculpt[:, :2].min(axis=0) - cold[:, :2].min(axis=0)
    assert cKDTree(cold).query(sculpt)[0].max() < 1e-4
    assert cKDTree(sculpt).query(cold)[0].max() < 1e-4


@pytest.mark.parametrize(
    ("material", "low", "high"),
    # Stelray's table of injection-moulding values.
    [("ABS", 0.004, 0.007), ("HDPE", 0.015, 0.03)],
)
def test_left_to_the_sheet_the_buck_is_larger_by_a_published_shrinkage(formed_on, tower, material, low, high):
    buck = formed_on(sheet={"material": material})
    tall = tower.vertices[:, 2].max()
    lost = 1 - tall / buck[:, 2].max()
    assert low < lost < high
    assert lost == pytest.approx((low + high) / 2, abs=1e-5), "the middle of the range"
