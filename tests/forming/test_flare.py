"""Where the sheet leaves the wall, on sheets whose cut is known."""

import numpy as np
import pytest

from buckwright.forming.forecast.flare import Flare, flare_at, stand_off_mm
from buckwright.forming.forecast.flare_findings import about_flare
from buckwright.relief.raster import Relief

PIXEL = 0.1


def relief(radius=10.0, height=20.0):
    """A drum on the platen."""
    side = np.arange(-15.0, 15.0, PIXEL)
    x, y = np.meshgrid(side + PIXEL / 2, side + PIXEL / 2)
    z = np.where(np.hypot(x, y) < radius, height, 0.0)
    return Relief(np.array([-15.0, -15.0]), PIXEL, z, np.zeros(z.shape, np.int32))


def bell(rim):
    """A sheet over it: `rim(z)` is how far it stands off the wall of the drum at a height."""
    z = np.linspace(0.0, 20.0, 41)
    angle = np.linspace(0.0, 2.0 * np.pi, 180, endpoint=False)
    radius = 10.0 + rim(z)
    points = np.stack(
        [
            radius[:, None] * np.cos(angle),
            radius[:, None] * np.sin(angle),
            np.repeat(z[:, None], len(angle), axis=1),
        ],
        axis=-1,
    ).reshape(-1, 3)
    at = np.arange(len(points)).reshape(len(z), len(angle))
    a, b, c, d = at[:-1], at[1:], np.roll(at, -1, 1)[:-1], np.roll(at, -1, 1)[1:]
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([b, d, c], -1).reshape(-1, 3)])
    return points, faces.astype(np.int32)


@pytest.mark.parametrize("z", [0.7, 4.3, 11.1])
def test_the_cut_stands_off_as_far_as_the_bell_does(z):
    points, faces = bell(lambda h: np.maximum(5.0 - h, 0.0))
    away, length = stand_off_mm(points, faces, relief(), z)
    wide = 10.0 + max(5.0 - z, 0.0)
    assert away == pytest.approx(wide - 10.0, abs=1.5 * PIXEL)
    assert length.sum() == pytest.approx(2.0 * np.pi * wide, rel=1e-3)


def test_a_trim_line_in_the_flare_is_told_how_much_to_rise():
    points, faces = bell(lambda h: np.maximum(5.0 - h, 0.0))
    found = flare_at(points, faces, relief(), trim_mm=2.0, tolerance_mm=0.5)
    assert found.matters
    assert found.share == pytest.approx(1.0)
    assert found.stands_off_mm == pytest.approx(3.0, abs=1.5 * PIXEL)
    assert 2.5 - 1.5 * PIXEL <= found.clear_mm <= 2.5 + 9.0 / 24 + 1.5 * PIXEL  # lies on from 4.5 mm


def test_a_trim_line_above_the_flare_is_left_in_peace():
    points, faces = bell(lambda h: np.maximum(5.0 - h, 0.0))
    found = flare_at(points, faces, relief(), trim_mm=6.0, tolerance_mm=0.5)
    assert not found.matters
    assert found.clear_mm == 0.0


@pytest.mark.parametrize(("lies_on_from", "margin"), [(4.8, 1.5), (1.0, 4.0)])
def test_the_room_between_trim_line_and_flare_is_measured_and_its_place_named(lies_on_from, margin):
    """Of a bell that leaves the wall at one side only: half a millimetre off it half a millimetre lower."""
    points, faces = bell(lambda h: np.maximum(lies_on_from - h, 0.0))
    left = points[:, 0] > 0.0
    points[left, :2] *= (10.0 / np.maximum(np.hypot(*points[left, :2].T), 10.0))[:, None]
    found = flare_at(points, faces, relief(), trim_mm=6.0, tolerance_mm=0.5, floor_mm=1.0)
    assert not found.matters and found.margin_mm == pytest.approx(margin)
    told = about_flare(found)
    if margin == 4.0:
        assert found.at_mm is None and told == []
        return
    assert found.at_mm[0] < 0.0 and np.hypot(*found.at_mm[:2]) > 10.0
    assert told[0].setting == "base.riser_mm" and told[0].at_mm == found.at_mm
    assert "1.5 mm over the flare" in told[0].words and "by 2.5 mm" in told[0].advice
    # a riser that ends there is no flare of its own, and without one nothing is asked
    assert flare_at(points, faces, relief(), trim_mm=6.0, tolerance_mm=0.5, floor_mm=6.0).margin_mm is None


def test_a_sheet_that_never_lies_on_finds_no_better_height():
    points, faces = bell(lambda h: 0.0 * h + 2.0)
    assert flare_at(points, faces, relief(), trim_mm=3.0, tolerance_mm=0.5).clear_mm is None


@pytest.mark.parametrize(("lies_on_from", "found"), [(9.0, True), (13.0, False)])
def test_a_better_height_is_sought_up_to_half_of_what_is_over_the_trim_line(lies_on_from, found):
    points, faces = bell(lambda h: np.maximum(lies_on_from - h, 0.0))
    higher = flare_at(points, faces, relief(), trim_mm=2.0, tolerance_mm=0.5).clear_mm
    assert (higher is not None) == found
    assert higher is None or higher <= (20.0 - 2.0) / 2


def test_a_fiftieth_of_the_trim_line_is_no_flare():
    assert not Flare(1.0, 0.019, None).matters
    assert Flare(1.0, 0.021, None).matters


def test_no_cut_no_flare():
    points, faces = bell(lambda h: 0.0 * h)
    assert not flare_at(points, faces, relief(height=50.0), trim_mm=40.0, tolerance_mm=0.5).matters
