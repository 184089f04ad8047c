"""What of a buck lies under the sheet, on a block whose surface is known."""

import numpy as np
import pytest

from buckwright.forming.forecast.coat import NEAR_CELLS, coat_of
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.mesh.triangles import Mesh

LOW, HIGH = 20.0, 12.0
"""Half of the side of a block, and its height."""


def block():
    """Twelve triangles on the platen."""
    corners = [(x, y, z) for z in (0.0, HIGH) for y in (-LOW, LOW) for x in (-LOW, LOW)]
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return Mesh.from_arrays(corners, [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))])


@pytest.fixture(scope="module")
def run():
    return forecast_sheet(
        lambda points: np.where(np.abs(points).max(axis=1) <= LOW, HIGH, 0.0),
        frame_mm=(80.0, 80.0),
        sheet_mm=1.0,
        nodes=2500,
        quality="preview",
    )


def test_the_coat_is_the_top_and_the_walls_in_small_faces(run):
    coat = coat_of(block(), run)
    corners = coat.mesh.vertices[coat.mesh.faces]
    assert len(coat.thickness_mm) == len(coat.order) == coat.mesh.vertex_count
    sides = np.linalg.norm(np.roll(corners, 1, axis=1) - corners, axis=2)
    assert sides.max() <= 1.5 * run.settings.cell_mm + 1e-9, "a wall of two triangles would have two values"
    on_top, on_platen = (corners[:, :, 2] == HIGH).all(axis=1), (corners[:, :, 2] == 0.0).all(axis=1)
    assert not on_platen.any(), "the underside is not under the sheet"
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    assert areas[on_top].sum() == pytest.approx(4 * LOW * LOW, rel=1e-6)
    assert areas[~on_top].sum() > 0.5 * 8 * LOW * HIGH


def test_its_values_are_the_sheets(run):
    coat = coat_of(block(), run)
    thick, _, off = run.at(coat.mesh.vertices)
    assert np.array_equal(thick, coat.thickness_mm) and off.max() <= NEAR_CELLS * run.settings.cell_mm
    high = coat.mesh.vertices[:, 2] == HIGH
    assert coat.thickness_mm[high].mean() > coat.thickness_mm[~high].mean()
    assert coat.order[high].mean() < coat.order[~high].mean()


def test_nothing_is_coated_far_from_the_sheet(run):
    low = Mesh(block().vertices * [0.5, 0.5, 0.5] + [0.0, 0.0, 1.0], block().faces)
    coat = coat_of(low, run)
    assert coat.mesh.face_count == len(coat.thickness_mm) == 0
