"""Measured points against the forecast."""

import math

import pytest

from buckwright.errors import JobError
from buckwright.forming.forecast.measured import against, points_of
from buckwright.forming.forecast.measured_findings import about_measured
from buckwright.forming.forecast.settings import ForecastSettings

WORDS = "left brow 0.52 at 12 30 41, chin 0.61 at 0 -55 2.5, tip 0.9 at 1e1 0 3, off 1 at 999 0 0"


def test_points_are_compared_by_ratio_spread_and_rank():
    found = against(points_of(WORDS), [0.65, 0.61, 0.75, math.nan])
    logs = [math.log(0.8), 0.0, math.log(1.2)]
    mean = sum(logs) / 3
    assert found.ratio == pytest.approx(math.exp(mean))
    assert found.spread == pytest.approx(math.sqrt(sum((one - mean) ** 2 for one in logs) / 2))
    # ranks 1 2 3 against 2 1 3: 1 - 6 x 2 / (3 x 8)
    assert found.rank == pytest.approx(0.5)
    assert found.missed == ("off",)
    assert found.noted == "left brow 0.52/0.65, chin 0.61/0.61, tip 0.90/0.75"


def test_two_points_have_no_rank_and_none_no_answer():
    assert against(points_of(WORDS)[:2], [0.6, 0.7]).rank is None
    assert against(points_of(WORDS)[3:], [math.nan]) is None
    assert "buck's frame" in about_measured(None, WORDS)[0].words
    assert about_measured(None, " ") == []


@pytest.mark.parametrize(
    "words", ["brow 0.52", "brow at 1 2 3", "0.5 at 1 2 3", "brow 0 at 1 2 3", "brow 1 at 1 2"]
)
def test_what_is_no_point_is_refused(words):
    with pytest.raises(JobError, match="is no point"):
        ForecastSettings(measured=words)
