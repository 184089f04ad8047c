import dataclasses
import json
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buckwright.errors import InputError
from buckwright.forming.sheets.materials import sheet
from buckwright.survey.release import judge_release


@dataclass(frozen=True)
class Limits:
    low: float = 0.01
    high: float = 0.02
    source: str = "test"
    mark: str = "from memory"


GIVEN = {
    "sideways_mm": 1.0,
    "depth_mm": 4.0,
    "ring_diameter_mm": 100.0,
    "flap_length_mm": 50.0,
    "sheet_mm": 1.0,
    "allowable": Limits(),
}


def judged(**changes):
    return judge_release(**(GIVEN | changes))


def test_a_row_of_the_table_of_sheets_is_a_strain_range():
    material = sheet("ABS")
    release = judged(allowable=material.strain)
    assert release.to_dict()["allowable"] == material.to_dict()["strain"]


def test_a_flap_bends_off_where_a_ring_would_not():
    flap, ring = judged(), judged(flap_length_mm=None)
    assert (flap.mode, flap.verdict) == ("free flap", "flexes off")
    assert flap.strain == pytest.approx(1.5 * 1 * 1 / 2500)
    assert (ring.mode, ring.verdict) == ("closed ring", "locked")
    assert ring.strain == pytest.approx(0.02)
    assert "no free flap" in ring.assumption
    assert "published limits" in ring.assumption
    assert "sheet before forming" in flap.assumption


def test_a_short_thick_flap_is_worse_than_the_ring():
    release = judged(flap_length_mm=3.0)
    assert release.mode == "closed ring"
    assert "would strain more" in release.assumption


def test_a_forecast_thickness_replaces_that_of_the_sheet():
    release = judged(thickness_mm=0.4)
    assert release.strain == pytest.approx(0.4 * judged().strain)
    assert "0.40 mm thick (as forecast)" in release.assumption


@pytest.mark.parametrize(
    ("sideways", "verdict"), [(0.0, "comes off"), (0.1, "comes off"), (0.1001, "locked")]
)
def test_a_tenth_of_a_millimetre_comes_off(sideways, verdict):
    assert judged(sideways_mm=sideways, ring_diameter_mm=1.0, flap_length_mm=None).verdict == verdict


def test_the_low_end_of_the_range_decides():
    assert judged(sideways_mm=0.5, flap_length_mm=None).verdict == "flexes off"
    assert judged(sideways_mm=0.501, flap_length_mm=None).verdict == "locked"


@given(
    sideways=st.floats(0.11, 50),
    diameter=st.floats(1, 500),
    length=st.floats(1, 500),
    sheet=st.floats(0.2, 5),
    factor=st.floats(0.1, 10),
)
def test_strain_is_a_pure_number_and_the_smaller_of_both(sideways, diameter, length, sheet, factor):
    sizes = {
        "sideways_mm": sideways,
        "ring_diameter_mm": diameter,
        "flap_length_mm": length,
        "sheet_mm": sheet,
    }
    release = judged(**sizes)
    # Hoop strain 2 y / d, and the root of an end-loaded cantilever, 3/2 y t / l^2.
    ring, flap = 2 * sideways / diameter, 1.5 * sideways * sheet / length**2
    assert release.strain == pytest.approx(min(ring, flap), rel=1e-12)
    scaled = judged(**{key: value * max(factor, 0.11 / sideways) for key, value in sizes.items()})
    assert scaled.strain == pytest.approx(release.strain)


def test_result_is_frozen_and_goes_into_json():
    release = judged()
    with pytest.raises(dataclasses.FrozenInstanceError):
        release.strain = 0.0
    row = json.loads(json.dumps(release.to_dict()))
    assert set(row) == {"strain", "allowable", "verdict", "mode", "assumption"}
    assert row["allowable"]["source"] == "test"


@pytest.mark.parametrize(
    "changes",
    [
        {"sideways_mm": -1.0},
        {"sideways_mm": float("nan")},
        {"depth_mm": -1.0},
        {"ring_diameter_mm": 0.0},
        {"flap_length_mm": 0.0},
        {"sheet_mm": 0.0},
        {"thickness_mm": float("inf")},
    ],
)
def test_nonsense_is_refused(changes):
    with pytest.raises(InputError, match=next(iter(changes))):
        judged(**changes)
