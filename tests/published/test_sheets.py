"""Areal draw ratios against closed forms and read design guides; each row with its source."""

import pytest
from manifold3d import Manifold

from buckwright.forming.sheets.table import load_sheets
from buckwright.pose.posing import mean_thickness_mm
from buckwright.shape.solid import as_mesh


@pytest.mark.parametrize(
    ("length", "width", "height", "sheet_mm", "published", "tolerance"),
    [
        # Crawford, Plastics Engineering, 3rd ed. 1998, Example 4.7(a), p. 310: printed 0.67 mm.
        (150, 100, 60, 2.0, 0.67, 0.005),
        # thermoform.com design guide: 10 x 12 x 2 in prints an areal ratio of 1.7; unit sheet.
        (304.8, 254, 50.8, 1.0, 1 / 1.7, 0.015),
    ],
)
def test_mean_thickness_of_a_box(length, width, height, sheet_mm, published, tolerance):
    box = as_mesh(Manifold.cube((length, width, height)))
    assert mean_thickness_mm(box, sheet_mm) == pytest.approx(published, abs=tolerance)


def test_mean_thickness_of_a_hemisphere():
    # Closed form: the areal ratio of a hemisphere is 2.
    half = as_mesh(Manifold.sphere(30.0, 256).trim_by_plane((0, 0, 1), 0.0))
    assert mean_thickness_mm(half, 4.0) == pytest.approx(2.0, rel=1e-3)


def test_draft_by_structure():
    # SPE Thermoforming 101 "Draft Angles", TFQ 25(1) 2006: 2-3 degrees amorphous, over 5 crystalline (male).
    for material in load_sheets().values():
        assert material.male_draft_deg.value == {"amorphous": 3, "semi-crystalline": 5}[material.structure]


@pytest.mark.parametrize(
    ("name", "density", "transition"),
    # Crawford, Plastics Engineering, 3rd ed. 1998, Table 1.8, p. 31.
    [
        ("ABS", 1040, 115),
        ("PMMA", 1180, 105),
        ("PP", 905, -10),
        ("HDPE", 950, -120),
        ("PVC", 1400, 80),
    ],
)
def test_density_and_glass_transition(name, density, transition):
    material = load_sheets()[name]
    assert (material.density_kg_m3.value, material.glass_transition_c.value) == (density, transition)
    assert material.density_kg_m3.mark == material.glass_transition_c.mark == "read"
