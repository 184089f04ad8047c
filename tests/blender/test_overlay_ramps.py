"""Colours of the viewport: the same as in the pictures, readable in grey, and never a colour for no value."""

from dataclasses import asdict
from importlib import import_module
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib import colormaps

from buckwright.output.canvas.palette import STATE_COLOURS, luminance
from buckwright.stage import ColorMap
from buckwright.stages import color_maps


@pytest.fixture(scope="module")
def ramps(addon: ModuleType) -> ModuleType:
    return import_module(f"{addon.__name__}.view.ramps")


def test_what_can_be_coloured_is_what_the_stages_declare(addon: ModuleType, ramps: ModuleType) -> None:
    declared = color_maps()
    assert [asdict(one) for one in ramps.QUANTITIES.values()] == [asdict(one) for one in declared.values()]
    assert set(declared) <= set(addon.scene.results.FACE_VALUES)
    new = ColorMap(array="heat_share", label="Heat", tip="How hot the sheet is there")
    ours = ramps.quantities([*ramps.QUANTITIES.values(), new])
    assert list(ours) == [*ramps.QUANTITIES, "HEAT_SHARE"] and ours["HEAT_SHARE"] is new
    painted = ramps.colours(new, np.array([0.0, 0.5, np.nan]), lowest=0.0, highest=1.0)
    assert painted[:, 3].tolist() == [255, 255, 0] and painted[0, 0] > painted[1, 0]


def test_color_by_offers_them(addon: ModuleType) -> None:
    import bpy

    items = bpy.context.scene.buckwright_view.bl_rna.properties["quantity"].enum_items
    assert [(one.name, one.description) for one in items] == [
        (one.label, one.tip) for one in color_maps().values()
    ]


def test_drafts_have_the_colours_of_the_pictures(ramps: ModuleType) -> None:
    places = np.linspace(0.0, 1.0, 256)
    ours = ramps.ramp(ramps.QUANTITIES["DRAFT_DEG"], places)
    theirs = np.asarray(colormaps["cividis"](places))[:, :3]
    assert np.abs(ours - theirs).max() <= 0.009  # nodes 0.008, rounding of nodes 0.0005


def test_states_have_the_colours_of_the_pictures(ramps: ModuleType) -> None:
    quantity = ramps.QUANTITIES["STATE"]
    painted = ramps.colours(quantity, np.array([0, 1, 2, 3, -1]), lowest=0.0, highest=1.0)
    assert np.abs(painted[:3, :3] / 255.0 - np.array(STATE_COLOURS[:3])).max() <= 1 / 255
    assert painted[:, 3].tolist() == [255, 255, 255, 0, 0]


@pytest.mark.parametrize(
    "key", ["DRAFT_DEG", "UNDERCUT_MM", "VENT_REACH_MM", "POCKET_MM", "THICKNESS_MM", "CONTACT_ORDER"]
)
def test_ramps_read_in_grey(ramps: ModuleType, key: str) -> None:
    quantity = ramps.QUANTITIES[key]
    grey = luminance(ramps.ramp(quantity, np.linspace(0.0, 1.0, 65)).astype(np.float64))
    steps = np.diff(grey)
    assert (steps > 0.0).all() if quantity.dark == "low" else (steps < 0.0).all()
    assert abs(grey[-1] - grey[0]) > 0.4


def test_states_read_in_grey(ramps: ModuleType) -> None:
    grey = [float(luminance(ramps.state_colour(state))) for state in range(3)]
    assert grey[0] - grey[1] > 0.2
    assert grey[1] - grey[2] > 0.2


def test_no_value_gets_no_colour(ramps: ModuleType) -> None:
    quantity = ramps.QUANTITIES["VENT_REACH_MM"]
    values = np.array([0.0, np.nan, 5.0, np.inf, 20.0], np.float32)
    painted = ramps.colours(quantity, values, lowest=0.0, highest=10.0, strength=0.5)
    assert painted[:, 3].tolist() == [128, 0, 128, 0, 128]
    assert ramps.colours(quantity, values[:0], lowest=0.0, highest=10.0).shape == (0, 4)


def test_beyond_the_range_stand_the_colours_of_its_ends(ramps: ModuleType) -> None:
    quantity = ramps.QUANTITIES["DRAFT_DEG"]
    values = np.array([-90.0, -6.0, 24.0, 90.0], np.float32)
    painted = ramps.colours(quantity, values, lowest=-6.0, highest=24.0)
    assert (painted[0] == painted[1]).all()
    assert (painted[2] == painted[3]).all()


def test_zero_depth_looks_free(ramps: ModuleType) -> None:
    quantity = ramps.QUANTITIES["UNDERCUT_MM"]
    painted = ramps.colours(quantity, np.array([0.0, 1e-4], np.float32), lowest=0.0, highest=2.0)
    assert np.abs(painted[0, :3] / 255.0 - np.array(STATE_COLOURS[0])).max() <= 1 / 255
    assert (painted[0] != painted[1]).any()


def test_form_shade_darkens_what_turns_away(ramps: ModuleType) -> None:
    ways = np.array([[-0.55, -0.62, 0.56], [0.55, 0.62, -0.56], [0.0, 0.0, 0.0]], np.float32)
    ways[:2] /= np.linalg.norm(ways[:2], axis=1)[:, None]
    toward, away, none = ramps.form_shade(ways)
    assert toward == pytest.approx(1.0, abs=1e-6)
    assert away < none < toward


@given(most=st.floats(1e-6, 1e6))
def test_ranges_of_lengths_end_at_round_numbers(ramps: ModuleType, most: float) -> None:
    lowest, highest = ramps.limits(
        ramps.QUANTITIES["POCKET_MM"], np.array([0.0, most, np.nan]), wanted_deg=3.0
    )
    assert lowest == 0.0
    assert most * (1 - 1e-5) <= highest <= 1.55 * most
    assert len(f"{highest:.6g}".replace(".", "").replace("0", "").split("e")[0]) <= 2


def test_ranges_without_values(ramps: ModuleType) -> None:
    nothing = np.full(3, np.nan)
    assert ramps.limits(ramps.QUANTITIES["POCKET_MM"], nothing, wanted_deg=3.0) == (0.0, 1.0)
    assert ramps.limits(ramps.QUANTITIES["DRAFT_DEG"], nothing, wanted_deg=3.0) == (-6.0, 24.0)


@pytest.mark.parametrize("key", ["DRAFT_DEG", "UNDERCUT_MM", "CONTACT_ORDER"])
def test_ticks_lie_on_the_ramp(ramps: ModuleType, key: str) -> None:
    quantity = ramps.QUANTITIES[key]
    lowest, highest = ramps.limits(quantity, np.array([0.0, 3.7]), wanted_deg=2.0)
    values = [value for value, _note in ramps.ticks(quantity, lowest, highest, wanted_deg=2.0)]
    assert values == sorted(values)
    assert (values[0], values[-1]) == (lowest, highest)


@pytest.mark.parametrize(
    ("length_mm", "system", "unit", "words"),
    [
        (0.75, "METRIC", "MILLIMETERS", "0.75 mm"),
        (0.75, "METRIC", "METERS", "0.75 mm"),
        (12.0, "METRIC", "CENTIMETERS", "1.2 cm"),
        (25.4, "IMPERIAL", "FEET", "1 in"),
        (0.0254, "IMPERIAL", "THOU", "1 thou"),
        (1234.5, "NONE", "METERS", "1230 mm"),
        (-0.5, "METRIC", "ADAPTIVE", "−0.5 mm"),
        (0.0, "METRIC", "ADAPTIVE", "0 mm"),
    ],
)
def test_lengths_in_words(addon: ModuleType, length_mm: float, system: str, unit: str, words: str) -> None:
    units = import_module(f"{addon.__name__}.view.number_words")
    assert units.length_words(length_mm, system=system, unit=unit) == words


@pytest.mark.parametrize("least, most", [(0.24, 0.75), (0.1, 0.11), (0.5, 0.5), (1.37, 4.02), (0.02, 2.0)])
def test_the_ramp_of_a_thickness_spans_what_is_there_in_plain_steps(
    ramps: ModuleType, least: float, most: float
) -> None:
    quantity = ramps.QUANTITIES["THICKNESS_MM"]
    values = np.concatenate([np.linspace(least, most, 1000), [np.nan, 9.0 * most]])  # one fold is no measure
    lowest, highest = ramps.limits(quantity, values, wanted_deg=3.0)
    inner = np.percentile(values[np.isfinite(values)], (1.0, 99.0))
    assert lowest <= inner[0] + 1e-9 and highest >= inner[1] - 1e-9 and lowest >= 0.0
    step = (highest - lowest) / 4.0
    assert lowest / step == pytest.approx(round(lowest / step), abs=1e-6)
    # Not wider than what is there asks for: four steps of the next but two plain size at most.
    assert highest - lowest <= max(4.0 * (most - least), 0.1 * most)
    notes = [note for _value, note in ramps.ticks(quantity, lowest, highest, wanted_deg=3.0)]
    assert notes == ["or less" if lowest > 0.0 else "", "", "", "", "or more"]


@pytest.mark.parametrize(
    ("least", "sheet_mm", "expected"),
    [
        (0.53, 1.5, [0.3, 0.6, 0.9, 1.2, 1.5]),
        (0.02, 0.75, [0.0, 0.2, 0.4, 0.6, 0.75]),
        (0.9, 1.0, [0.88, 0.91, 0.94, 0.97, 1.0]),
        (1.2, 1.0, [0.88, 0.91, 0.94, 0.97, 1.0]),
    ],
)
def test_a_thickness_ends_at_that_of_the_sheet(ramps, least, sheet_mm, expected):
    thick = np.full(200, least)
    low, high = ramps.limits(ramps.THICKNESS, thick, wanted_deg=0.0, sheet_mm=sheet_mm)
    assert high == sheet_mm and (low <= least or least > sheet_mm)
    marks = ramps.ticks(ramps.THICKNESS, low, high, wanted_deg=0.0, sheet_mm=sheet_mm)
    assert [value for value, _note in marks] == pytest.approx(expected)
    assert marks[-1][1] == "unformed" and marks[0][1] == ("or less" if low else "")
