"""Draft figures from outside the project."""

import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh
from buckwright.survey.draft import draft_deg, wanted_draft_deg


@pytest.mark.parametrize(
    ("draft", "offset_mm"),
    [(0.5, 0.8727), (1.0, 1.7455), (2.0, 3.4921), (3.0, 5.2408), (5.0, 8.7489)],
)
def test_sideways_offset_over_100_mm(draft: float, offset_mm: float) -> None:
    """100 mm x tan(draft), derived; the printed figures have four decimals (half a digit: 3e-5 degrees)."""
    corners = [[0.0, 0.0, 0.0], [0.0, 50.0, 0.0], [-offset_mm, 0.0, 100.0]]
    assert draft_deg(Mesh.from_arrays(corners, [[0, 1, 2]]))[0] == pytest.approx(draft, abs=3e-5)


def test_wedge_between_two_planes() -> None:
    """Pythagorean wedge 3 : 4 : 5, draft asin(3/5) = 36.86989764584402 degrees, derived."""
    corners = [[0.0, 0.0, 0.0], [0.0, 5.0, 0.0], [-3.0, 0.0, 4.0]]
    drafts = draft_deg(Mesh.from_arrays(corners, [[0, 1, 2], [0, 2, 1]]))
    assert np.abs(drafts - [36.86989764584402, -36.86989764584402]).max() < 1e-9


def test_texture_rule() -> None:
    """1 degree more for every 0.001 in (25.4 um) of texture, female moulds; read second-hand."""
    assert wanted_draft_deg(3.0, 0.0254) == pytest.approx(4.0)
    assert wanted_draft_deg(5.0, 0.1016) == pytest.approx(9.0)
