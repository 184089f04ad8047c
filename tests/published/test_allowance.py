"""Allowances against arithmetic and published ranges.

Scale: buck = part / (1 - s). Shrinkage ranges: injection-moulding values of the Stelray table (read);
offset by t square to the surface, as a wall of angle a to the horizontal shows it.
"""

import numpy as np
import pytest
from manifold3d import Manifold
from pytest import approx

from buckwright.forming.sheets.table import load_sheets
from buckwright.shape.offset.allowance import offset_inward, shrink_scale
from buckwright.shape.solid import as_mesh


# Mould over part: 1 / (1 - s), worked by hand to six places.
@pytest.mark.parametrize(
    ("shrinkage", "scale"), [(0.004, 1.004016), (0.006, 1.006036), (0.02, 1.020408), (0.03, 1.030928)]
)
def test_scale_of_the_buck(shrinkage, scale):
    assert shrink_scale(shrinkage) == approx(scale, abs=5e-7)


STELRAY = {
    "ABS": (0.004, 0.007),
    "PMMA": (0.002, 0.009),
    "PC": (0.005, 0.007),
    "PETG": (0.003, 0.005),
    "PVC": (0.002, 0.004),
    "PP": (0.01, 0.03),
    "HDPE": (0.015, 0.03),
}


@pytest.mark.parametrize("name", STELRAY)
def test_the_shrinkage_of_a_sheet_lies_in_the_stelray_range(name):
    (low, high), span = STELRAY[name], load_sheets()[name].shrinkage
    assert low - 1e-12 <= (span.low + span.high) / 2 <= high + 1e-12, "the figure that a job takes"
    # For PETG, PC and PVC the table takes values of thermoforming, which end 0.1 % higher.
    assert low <= span.low
    assert span.high <= high + 0.001 + 1e-12


@pytest.mark.parametrize("name", ["ABS", "HDPE"])
def test_a_range_that_is_said_to_agree_with_stelray_is_its_range(name):
    span = load_sheets()[name].shrinkage
    assert "Stelray's injection-moulding table agrees" in span.source
    assert (span.low, span.high) == STELRAY[name]


@pytest.mark.parametrize("draft", [0.5, 1.0, 2.0, 3.0, 5.0])
def test_a_drafted_wall_moves_sideways_by_t_over_the_cosine_of_its_draft(draft):
    run = 20 * np.tan(np.deg2rad(draft))
    sides = [(x, y) for x in (-1, 1) for y in (-1, 1)]
    corners = [(20 * x, 20 * y, 20.0) for x, y in sides]
    corners += [(x * (20 + run), y * (20 + run), 0.0) for x, y in sides]
    block = as_mesh(Manifold.hull_points(np.array(corners, dtype=float)))
    made = offset_inward(block, 0.75, still=block.corners()[:, :, 2].max(1) == 0)
    foot = made.mesh.vertices[made.mesh.vertices[:, 2] < 1e-6]
    assert np.abs(foot[:, :2]) == approx(20 + run - 0.75 / np.cos(np.deg2rad(draft)), abs=1e-6)
