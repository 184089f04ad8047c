"""What is said of a forecast: from which figures on a note becomes a warning."""

from types import SimpleNamespace

import numpy as np
import pytest

from buckwright.forming.forecast.findings import about_sheet
from buckwright.forming.forecast.result import Forecast

SHEET = 0.8


def web(length):
    return SimpleNamespace(where_mm=(0.0, 0.0, 5.0), length_mm=length, height_mm=9.0, crosses_trim_line=None)


def figures(weakest_mm=0.5 * SHEET, ratio=2.0):
    return SimpleNamespace(
        weakest_mm=weakest_mm, weakest_at_mm=(1.0, 2.0, 3.0), areal_draw_ratio=ratio, not_known_share=0.0
    )


def told(**changes):
    """Findings of a forecast in which all is well, but for the changes."""
    well = {
        "formed": SimpleNamespace(stopped="", forced=0, state=np.zeros(3, int), slid_to_mm=None),
        "settings": SimpleNamespace(
            sheet_mm=SHEET, cell_mm=2.0, finest_cell_mm=0.5, vents=object(), quality="fine"
        ),
        "figures": figures(),
        "weakest_words": "some",
        "thin_words": "some",
        "webs": (),
        "counted_air": (),
        "height_mm": 40.0,
        "gap_to_frame_mm": 40.0,
        "overlooked_mm": 0.0,
    }
    run = SimpleNamespace(**(well | changes))
    run.overlooks = Forecast.overlooks.fget(run)
    return about_sheet(run)


def severities(findings, words):
    return [finding.severity for finding in findings if words in finding.words]


def test_where_all_is_well_only_the_weakest_spot_is_told():
    assert [finding.severity for finding in told()] == ["note"]


@pytest.mark.parametrize(("share", "severity"), [(0.26, "note"), (0.24, "warn")])
def test_less_than_a_quarter_of_the_sheet_is_a_warning(share, severity):
    assert severities(told(figures=figures(weakest_mm=share * SHEET)), "Weakest") == [severity]


@pytest.mark.parametrize(("ratio", "warned"), [(2.9, False), (3.1, True)])
def test_plain_vacuum_forming_draws_the_sheet_to_three_times_its_area(ratio, warned):
    assert bool(severities(told(figures=figures(ratio=ratio)), "times its area")) == warned


@pytest.mark.parametrize(("left", "severity"), [(0.4, "note"), (0.6, "warn")])
def test_air_that_keeps_half_a_sheet_off_the_buck_shows(left, severity):
    pool = SimpleNamespace(left_mm=left * SHEET, volume_mm3=100.0, last_touched_mm=(1.0, 2.0, 3.0))
    assert severities(told(counted_air=(pool,)), "traps air") == [severity]


@pytest.mark.parametrize(("count", "besides"), [(4, []), (7, ["3 smaller webs are not listed."])])
def test_of_many_webs_the_first_are_told_one_by_one(count, besides):
    found = told(webs=tuple(web(20.0 - n) for n in range(count)))
    assert len(severities(found, "A web")) == count - (3 if besides else 0)
    assert [finding.words for finding in found if "not listed" in finding.words] == besides


@pytest.mark.parametrize(("share", "said"), [(0.2, False), (0.3, True)])
def test_details_are_overlooked_from_a_quarter_of_a_cell_on(share, said):
    assert bool(severities(told(overlooked_mm=share * 2.0), "finer than")) == said


@pytest.mark.parametrize(
    ("quality", "advised"), [("preview", "forecast.quality"), ("fine", "forecast.nodes")]
)
def test_a_preview_that_overlooks_details_advises_a_fine_forecast(quality, advised):
    settings = SimpleNamespace(
        sheet_mm=SHEET, cell_mm=2.0, finest_cell_mm=0.5, vents=object(), quality=quality
    )
    found = [one for one in told(overlooked_mm=1.0, settings=settings) if "finer than" in one.words]
    assert [one.setting for one in found] == [advised]
