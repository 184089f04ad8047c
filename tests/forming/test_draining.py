"""What stays bridged in spite of the vents, and why: a hollow in a low disc."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from buckwright.forming.drainage.draining import drain
from buckwright.forming.drainage.findings import about_drainage, what_stays
from buckwright.forming.forecast.forecast_sheet import forecast_sheet

DEEP, BESIDE = np.array([[0.0, 0.0, 4.0]]), np.array([[30.0, 0.0, 20.0]])


def hollow(q):
    r = np.hypot(*q.T)
    return np.where(r < 34.0, np.where(r < 18.0, 4.0 + 16.0 * (r / 18.0) ** 2, 20.0), 0.0)


@cache
def formed(vents=None):
    return forecast_sheet(
        hollow,
        frame_mm=(130.0, 130.0),
        sheet_mm=0.75,
        nodes=900,
        finest_mm=3.0,
        quality="preview",
        vents_mm=None if vents is None else np.array(vents),
    )


def drained(tops, *, forecast=None, dropped=(), pool=None):
    vented = formed(tuple(map(tuple, BESIDE)))
    if pool:
        vented = replace(vented, trapped_air=(replace(vented.trapped_air[0], **pool),))
    one = formed() if forecast is None else forecast
    return drain(one, tops, lambda volumes, _: [1.0] * len(volumes), vented, dropped)


def test_a_vent_in_the_hollow_drains_it():
    found = drain(formed(), DEEP, lambda volumes, _: [1.0] * len(volumes), formed(tuple(map(tuple, DEEP))))
    assert found.bridged == () and found.causes == ()


@pytest.mark.parametrize(
    ("case", "cause"),
    [
        ({"tops": BESIDE}, "closes the way to the nearest vent, 1"),
        ({"tops": np.zeros((0, 3))}, "there is no vent"),
        ({"tops": DEEP}, "seals its vent at x 0, y 0, z 4 mm"),
        (
            {"tops": BESIDE, "dropped": ((1.0, 0.0, 4.0, 0, "too little solid"),)},
            "not made: too little solid",
        ),
        (
            {"tops": BESIDE, "dropped": ((30.0, 0.0, 20.0, 0, "too little solid"),)},
            "closes the way to the nearest vent",
        ),
        ({"tops": BESIDE, "pool": {"sealed_share": 1.0}}, "reaches down to the foot"),
        ({"tops": BESIDE, "forecast": "empty"}, "less than 0.1 ml where air leaves everywhere"),
    ],
)
def test_the_cause_of_a_bridge_is_told(case, cause):
    if case.get("forecast") == "empty":
        case = case | {"forecast": replace(formed(), trapped_air=())}
    found = drained(**case)
    assert len(found.bridged) == len(found.causes) == 1
    assert cause in found.causes[0]
    assert found.to_dict()["with_vents"]["bridged"][0]["cause"] == found.causes[0]
    (told,) = [one for one in about_drainage(found, formed(), target_s=9.0) if "bridges" in one.words]
    assert found.causes[0] in told.words and "x 0, y 0, z 4 mm" in told.words


def test_a_pool_within_another_is_the_same_bridge():
    vented = formed(tuple(map(tuple, BESIDE)))
    one = vented.trapped_air[0]
    inner = replace(one, region=one.region[::2], volume_mm3=0.5 * one.volume_mm3)
    apart = replace(inner, region=np.array([0, 1, 2]))
    for pools, count in (((one, inner), 1), ((one, apart), 2)):
        found = drain(formed(), BESIDE, lambda _, n: [1.0] * len(n), replace(vented, trapped_air=pools))
        assert len(found.bridged) == count


@pytest.mark.parametrize(
    ("tops", "again", "seen", "words"),
    [
        (DEEP, False, False, ""),
        (BESIDE, False, True, "the forecast shuts in air in 1 more place without a vent, up to 8."),
        (DEEP, True, False, ""),
        (BESIDE, True, True, "the forecast sheet still bridges 1 place, up to 8."),
    ],
)
def test_the_verdict_on_filling_and_the_finding_agree(tops, again, seen, words):
    """A bowl of 16 mm and radius 18 mm, so of pi / 2 x 18^2 x 16 = 8.1 ml, with and without a vent in it."""
    second = formed(tuple(map(tuple, tops))) if again else None
    found = drain(formed(), tops, lambda volumes, n: [1.0 if k else np.inf for k in n], second)
    said = what_stays(found)
    assert said[0] == seen and said[1].startswith(words) and bool(said[1]) == bool(words)
    notes = [one.words for one in about_drainage(found, formed(), target_s=9.0)]
    if seen and not again:
        (pool,) = found.unvented
        assert pool.volume_mm3 == pytest.approx(np.pi / 2.0 * 18.0**2 * 16.0, rel=0.01)
        sizes = f"up to {pool.volume_mm3 / 1000.0:.1f} ml and {pool.depth_mm:.1f} mm deep"
        assert said[1].endswith(sizes) and sizes in notes[0]
        assert found.to_dict()["without_vent"] == [pool.to_dict()]
        small = replace(found, unvented=(replace(pool, volume_mm3=200.0),))
        assert what_stays(small)[0] is False and "up to 0.2 ml" in what_stays(small)[1]


def test_without_any_vent_all_the_air_stays():
    found = drain(formed(), np.zeros((0, 3)), lambda volumes, n: [], None)
    assert found.unvented == formed().trapped_air and what_stays(found)[0]
