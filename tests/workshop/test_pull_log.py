"""The pull log: never a record lost, heater and sheet fitted, one change at a time."""

import os
import random
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buckwright.errors import JobError
from buckwright.workshop.log.advice import advise, best_pull, change_words, changes, recipe, thickness_bias
from buckwright.workshop.log.book import append_pull, log_path, read_pulls
from buckwright.workshop.log.carrying import fit_carrying
from buckwright.workshop.log.cooling import fit_cooling
from buckwright.workshop.log.fitting import Ripening, fit_pulls
from buckwright.workshop.log.record import PullRecord, record_from


def test_what_is_noted_reads_back(tmp_path):
    path = log_path(tmp_path, "owl.stl")
    assert path == tmp_path / "owl.pulls.toml" and read_pulls(path) == ()
    first = PullRecord(heat_s=42.0, fill=2, thickness="brow 0.52/0.60, left ear 0.41", next='5 s "longer"')
    assert append_pull(path, first) == 1
    path.write_text("# my own note\n" + path.read_text(encoding="utf-8") + "# and another", encoding="utf-8")
    before = path.read_bytes()
    assert append_pull(path, PullRecord(heat_s=47.0)) == 2
    assert path.read_bytes().startswith(before), "what was there stays byte for byte"
    assert read_pulls(path) == (first, PullRecord(heat_s=47.0))
    assert [(one.name, one.measured_mm, one.forecast_mm) for one in first.spots] == [
        ("brow", 0.52, 0.60),
        ("left ear", 0.41, None),
    ]


@given(note=st.text(max_size=80), colour=st.text(max_size=20))
def test_any_words_read_back(note, colour, tmp_path_factory):
    path = tmp_path_factory.mktemp("log") / "a.pulls.toml"
    try:
        record = PullRecord(next=note, colour=colour, fill=1)
        append_pull(path, record)
    except (JobError, UnicodeEncodeError):
        assert any(0xD800 <= ord(letter) < 0xE000 for letter in note + colour)
        return
    assert read_pulls(path) == (record,)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[[pull]\n", "cannot be read: .* nothing is lost"),
        ("pull = 3\n", r"tables named \[\[pull\]\]"),
        ("[[pull]]\nheat = 3\n", r"pull 1\] has no setting 'heat'"),
        ("[[pull]]\nfill = 1\n[[pull]]\nfill = 4\n", r"pull 2\] fill must be between 0 and 3"),
    ],
)
def test_a_log_that_cannot_be_read_is_not_touched(tmp_path, text, message):
    path = tmp_path / "a.pulls.toml"
    path.write_text(text)
    for act in (lambda: read_pulls(path), lambda: append_pull(path, PullRecord(fill=1))):
        with pytest.raises(JobError, match=message):
            act()
    assert path.read_text() == text
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"thickness": "brow"}, "no point"),
        ({"thickness": "brow 0.5/x"}, "no point"),
        ({"sag_s": 40.0, "heat_s": 30.0}, "sag_s is 40 s and heat_s 30 s"),
        ({"fill": 4}, "between 0 and 3"),
        ({"dried": "perhaps"}, "must be one of yes, no"),
    ],
)
def test_records_that_contradict_themselves_are_refused(values, message):
    with pytest.raises(JobError, match=message):
        record_from(values)


WRITER = """
import sys
from pathlib import Path
from buckwright.workshop.log.book import append_pull
from buckwright.workshop.log.record import PullRecord
path, start = Path(sys.argv[1]), int(sys.argv[2])
print("ready", flush=True)
for n in range(start, start + 10_000):
    append_pull(path, PullRecord(heat_s=float(n), next="x" * 200))
    print(n, flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="kills by signal")
def test_no_record_that_was_confirmed_is_lost_whatever_is_killed(tmp_path):
    path, chance = tmp_path / "a.pulls.toml", random.Random(7)
    confirmed = []
    for _ in range(8):
        start = 1 + (confirmed[-1] + 1 if confirmed else 0)
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), str(start)], stdout=subprocess.PIPE, text=True
        ) as child:
            assert child.stdout.readline() == "ready\n"
            time.sleep(chance.uniform(0.005, 0.08))
            os.kill(child.pid, signal.SIGKILL)
            confirmed += [int(line) for line in child.stdout.read().splitlines() if line]
        held = [int(pull.heat_s) for pull in read_pulls(path)]
        assert set(confirmed) <= set(held)
        # at most the one that was being written when it was killed stands there beside
        assert len(held) <= len(confirmed) + 1 and held == sorted(set(held))
        confirmed = held
    assert len(confirmed) > 8


def test_two_writers_at_once_lose_nothing(tmp_path):
    path = tmp_path / "a.pulls.toml"
    code = WRITER.replace("10_000", "15")
    writers = [
        subprocess.Popen([sys.executable, "-c", code, str(path), str(start)], stdout=subprocess.DEVNULL)
        for start in (1, 101)
    ]
    assert [one.wait() for one in writers] == [0, 0]
    held = sorted(int(pull.heat_s) for pull in read_pulls(path))
    assert held == [*range(1, 16), *range(101, 116)]


def lumped(strength):
    """A sheet that warms evenly: 100 K to the window and 20 K more to its best, at 4 K/s and strength 1."""
    rate = 4.0 * strength
    return Ripening(100.0 / rate, 120.0 / rate, 160.0 / rate, lambda t: (rate * t - 100.0) / 20.0)


def fitted(pulls, **changed):
    return fit_pulls(pulls, **({"ripen": lumped, "sag_share": (0.1, 0.3), "opening_mm": 200.0} | changed))


def pulls_at(strength, sag_share, seconds):
    truth = lumped(strength)
    return [
        PullRecord(
            sag_s=truth.earliest_s,
            heat_s=max(t, truth.earliest_s),
            sag_mm=200.0 * sag_share * max(truth.ripeness(t), 0.0),
        )
        for t in seconds
    ]


def test_without_pulls_what_was_known_stands():
    none = fitted([])
    assert (none.heater, none.pick_up, none.observed) == (1.0, 1.0, 0)
    assert none.heater_sd == pytest.approx(0.3) and none.pick_up_sd == pytest.approx(0.1)
    assert none.best_s == pytest.approx(30.0) and none.low_s < 30.0 < none.high_s


@pytest.mark.parametrize("strength", [0.75, 1.0, 1.4])
def test_pulls_find_the_strength_and_the_sag(strength):
    best = 30.0 / strength
    found = fitted(pulls_at(strength, 0.22, [best, 1.05 * best, 1.1 * best] * 3))
    assert found.heater * found.pick_up == pytest.approx(strength, rel=0.02)
    assert found.sag_share == pytest.approx(0.22, abs=0.01)
    assert found.best_s == pytest.approx(best, rel=0.02)
    # known beforehand ten to one in squares: the heater takes most of it
    assert abs(np.log(found.heater)) >= 5.0 * abs(np.log(found.pick_up)) - 1e-3


def test_the_fit_is_that_of_the_normal_equations():
    """Times alone make it linear in logarithms: prior 0.3 and 0.1, n figures of 0.1."""
    n, wanted = 4, np.log(1.3)
    pulls = [PullRecord(sag_s=25.0 / 1.3)] * n
    design = np.array([[1 / 0.3, 0], [0, 1 / 0.1], *[[1 / 0.1, 1 / 0.1]] * n])
    target = np.array([0, 0, *[wanted / 0.1] * n])
    exact, *_ = np.linalg.lstsq(design, target, rcond=None)
    spread = np.linalg.inv(design.T @ design)
    found = fitted(pulls)
    assert [np.log(found.heater), np.log(found.pick_up)] == pytest.approx(exact, abs=1e-3)
    assert [found.heater_sd, found.pick_up_sd] == pytest.approx(np.sqrt(np.diag(spread)), rel=0.02)


def test_more_pulls_narrow_the_next_one():
    spans = []
    for count in (0, 1, 3, 10):
        one = fitted(pulls_at(1.2, 0.2, [27.0] * count))
        spans.append(one.high_s - one.low_s)
    assert spans == sorted(spans, reverse=True) and spans[-1] < 0.4 * spans[0]


def test_power_counts():
    full = fitted([PullRecord(sag_s=25.0)])
    half = fitted([PullRecord(sag_s=50.0, power=0.5)])
    assert half.heater == pytest.approx(full.heater, abs=1e-3)


@pytest.mark.parametrize(
    ("last", "key", "words"),
    [
        ({"web": 3, "heat_s": 45.0}, "heat_s", "Heat 30 s instead of 45 s"),
        ({"web": 3, "heat_s": 15.0}, "buck", "opening smaller"),
        ({"chill": 2, "buck_c": 25.0}, "buck_c", "35 °C"),
        ({"chill": 2, "buck_c": 40.0}, "buck", "matt"),
        ({"trapped": 2}, "buck", "vents"),
        ({"stuck": 3, "web": 2}, "release", "talc"),
        ({"fill": 1, "heat_s": 20.0}, "heat_s", "Heat 30 s"),
        ({"fill": 1, "heat_s": 35.0}, "vacuum", "leaks"),
        ({"fill": 1}, "heat_s", "note the seconds"),
        ({"fill": 3, "web": 1, "heat_s": 30.0}, "", "Repeat"),
    ],
)
def test_one_thing_is_changed_at_a_time(last, key, words):
    advice = advise([PullRecord(**last)], fitted([]))
    assert advice.key == key and words in advice.words and advice.reason


def test_the_best_recipe_and_the_last_change():
    pulls = [
        PullRecord(heat_s=30.0, fill=2, web=1),
        PullRecord(heat_s=35.0, fill=3),
        PullRecord(heat_s=35.0, fill=3, stuck=1, buck_c=30.0, hold_s=40.0),
    ]
    assert best_pull(pulls) == 1 and best_pull([PullRecord()]) is None
    assert best_pull([*pulls, pulls[1]]) == 3  # the latest of equals
    assert changes(pulls[0], pulls[1]) == {"heat_s": (30.0, 35.0)}
    assert changes(pulls[1], pulls[2]) == {}  # what was not noted before is no change
    assert recipe(pulls[2]) == "35 s of heat, 30 °C buck, 40 s of hold, marks 2"


def test_the_bias_of_thickness():
    assert thickness_bias([PullRecord(thickness="brow 0.5")]) is None
    bias = thickness_bias(
        [PullRecord(thickness="brow 0.45/0.5, chin 0.9"), PullRecord(thickness="brow 0.5/0.5")]
    )
    assert bias.ratio == pytest.approx(np.sqrt(0.9)) and bias.points == 2
    assert bias.spread == pytest.approx(abs(np.log(0.9)) / np.sqrt(2.0))


def test_the_time_on_the_buck_is_fitted_beside_what_heating_expects():
    """By the normal equations: (f / 0.3)^2 + n ((l - f) / 0.1)^2 is least at f = n l / (n + 1 / 9)."""
    usual = fit_cooling([], lambda _: 12.0)
    assert (usual.factor, usual.hold_s, usual.observed) == (1.0, 12.0, 0)
    pulls = [PullRecord(stiff_s=18.0)] * 3
    found = fit_cooling(pulls, lambda _: 12.0)
    wanted = 3.0 * np.log(1.5) / (3.0 + 1.0 / 9.0)
    assert np.log(found.factor) == pytest.approx(wanted)
    assert found.hold_s == pytest.approx(12.0 * np.exp(wanted)) and found.observed == 3
    assert found.low_s < found.hold_s < found.high_s and found.factor_sd < usual.factor_sd / 4.0


def test_a_warm_buck_is_no_slow_sheet():
    """Each time is held against what is expected of a buck as warm as it was."""
    expected = {None: 10.0, 40.0: 15.0}.__getitem__
    assert fit_cooling([PullRecord(stiff_s=15.0, buck_c=40.0)], expected).factor == pytest.approx(1.0)
    assert fit_cooling([], lambda _: float("inf")) is None


def test_changes_are_worded_without_empty_decimals():
    before, after = PullRecord(heat_s=60, dried="no"), PullRecord(heat_s=62.5, dried="yes")
    assert change_words(changes(before, after)) == "dried from no to yes, heat_s from 60 to 62.5"


def test_the_way_to_the_buck_is_fitted_beside_what_the_job_expects():
    """(f / 0.7)^2 + n ((l - f) / 0.15)^2 is least at f = n l / (n + (0.15 / 0.7)^2)."""
    usual = fit_carrying([PullRecord(fill=1)], 2.0, hold_s=5.0)
    assert (usual.carry_s, usual.observed) == (2.0, 0)
    assert np.log(usual.high_s / 2.0) == pytest.approx(0.7) and not usual.too_long
    found = fit_carrying([PullRecord(carry_s=6.0)] * 2, 2.0, hold_s=5.0)
    wanted = 2.0 * np.log(3.0) / (2.0 + (0.15 / 0.7) ** 2)
    assert np.log(found.carry_s / 2.0) == pytest.approx(wanted) and found.observed == 2
    spread = 1.0 / np.sqrt(1.0 / 0.7**2 + 2.0 / 0.15**2)
    assert np.log(found.high_s / found.carry_s) == pytest.approx(spread)
    assert found.too_long and found.to_dict()["hold_s"] == 5.0
    assert fit_carrying([], 0.0, hold_s=float("inf")).to_dict()["hold_s"] is None


@pytest.mark.parametrize(
    ("last", "key"), [({"chill": 3}, "carry_s"), ({"fill": 1}, "carry_s"), ({"web": 3}, "heat_s")]
)
def test_a_sheet_that_gets_cold_on_its_way_is_brought_faster(last, key):
    pull = PullRecord(carry_s=8.0, heat_s=30.0, **last)
    advice = advise([pull], fitted([]), fit_carrying([pull], 2.0, hold_s=4.0))
    assert advice.key == key
    if key == "carry_s":
        assert "within 4.0 s" in advice.words
    near = advise([pull], fitted([]), fit_carrying([pull], 2.0, hold_s=20.0))
    assert near.key != "carry_s"
