"""Setups in a run: what is taken, what is told, and what an open depth of sinking does."""

import math

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from buckwright.errors import InputError, JobError
from buckwright.job import job_from
from buckwright.pipeline.run import run
from buckwright.shape.solid import as_mesh


def ball():
    return Manifold.sphere(20.0, 96).translate((0, 0, 20))


def box():
    return Manifold.cube((40, 30, 20))


def vase():
    """Narrow at its foot, widest at 40 of 90 mm, taller than wide."""
    return Manifold.cylinder(40, 16, 34, 96) + Manifold.cylinder(50, 34, 22, 96).translate((0, 0, 40))


def crate():
    """A tall block whose foot is as wide as anything above it."""
    return Manifold.cube((30, 30, 70), False)


@pytest.fixture
def looked(tmp_path):
    """Run `look` (or another command) on a solid with some settings."""

    def look(solid, command="look", pictures=False, **tables):
        mesh, path = as_mesh(solid), tmp_path / "sculpt.stl"
        trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(path)
        raw = {"sculpt": {"file": str(path)}, "fit": {"shrinkage": 0.0}, "vents": {"enabled": False}}
        for table, values in tables.items():
            raw.setdefault(table, {}).update(values)
        out = tmp_path / "out" if pictures else None
        return run(command, job_from(raw), out, pictures=pictures)

    return look


def told(outcome, slug):
    return [one for one in outcome.findings if one.slug == slug]


def test_a_search_tells_its_setups(looked, tmp_path):
    outcome = looked(vase(), pictures=True, pull={"directions": 60})
    setups = outcome.report["setups"]
    assert [one["number"] for one in setups] == list(range(1, len(setups) + 1))
    assert [one["taken"] for one in setups] == [True] + [False] * (len(setups) - 1)
    assert outcome.report["pull"]["direction"] == setups[0]["direction"]
    assert outcome.report["pull"]["sink_mm"] == pytest.approx(setups[0]["sink_mm"])
    picture = (tmp_path / "out" / "setups.png").read_bytes()
    assert picture.startswith(b"\x89PNG")
    assert len(picture) < 1_000_000
    assert any("Setup 1 of" in fact for fact in outcome.summary.facts)


def test_another_setup_can_be_taken(looked):
    first = looked(vase(), pull={"directions": 60})
    second = looked(vase(), pull={"directions": 60, "setup": 2})
    setups = second.report["setups"]
    assert [one["taken"] for one in setups][:2] == [False, True]
    assert second.report["pull"]["direction"] == pytest.approx(setups[1]["direction"])
    assert second.report["pull"]["sink_mm"] == pytest.approx(setups[1]["sink_mm"], abs=1e-6)
    assert setups[0]["score"] == pytest.approx(first.report["setups"][0]["score"])
    assert not told(second, "close-setups")


def test_a_number_that_there_is_not_is_refused(looked):
    words = r"no setup 5: there is only 1 setup to choose from; set pull\.setup back to 1 \(--pull-setup 1\)"
    with pytest.raises(InputError, match=words):
        looked(box(), pull={"direction": "z", "setup": 5})
    for number in (0, 6, 1.5):
        with pytest.raises(JobError, match="setup"):
            job_from({"pull": {"setup": number}})


def test_a_flat_foot_is_left_as_it_is(looked):
    """With the depth left open, the part is the same as with none at all."""
    open_depth = looked(box(), pull={"direction": "z"})
    none = looked(box(), pull={"direction": "z"}, base={"sink_mm": 0.0})
    assert open_depth.report["pull"]["sink_mm"] == 0.0
    assert not told(open_depth, "sunk")
    assert np.array_equal(open_depth.results["posed"].mesh.vertices, none.results["posed"].mesh.vertices)
    assert "setups" not in none.report


def test_a_ball_is_sunk_to_its_middle_and_says_what_is_lost(looked):
    outcome = looked(ball(), pull={"direction": "z"})
    # the widest of 96 slices is at most one slice from the equator
    assert outcome.report["pull"]["sink_mm"] == pytest.approx(20.0, abs=40 / 96)
    (finding,) = told(outcome, "sunk")
    assert "of its 40.0 mm" in finding.words
    assert finding.setting == "base.sink_mm"
    posed = outcome.results["posed"]
    volume = 4 / 3 * math.pi * 8000.0
    assert posed.sunk_mm3 + posed.mesh.volume_mm3() == pytest.approx(volume, rel=0.01)
    assert posed.sunk_share == pytest.approx(0.5, abs=0.02)


def test_shrinkage_scales_the_depth_too(looked):
    plain = looked(ball(), pull={"direction": "z"}).report["pull"]["sink_mm"]
    larger = looked(ball(), pull={"direction": "z"}, fit={"shrinkage": 0.02}).report["pull"]["sink_mm"]
    assert larger == pytest.approx(plain / 0.98)


def test_a_given_depth_wins_over_the_rule(looked):
    for sink in (3.0, "widest"):
        outcome = looked(ball(), pull={"direction": "z"}, base={"sink_mm": sink})
        wanted = 3.0 if sink == 3.0 else 20.0
        assert outcome.report["pull"]["sink_mm"] == pytest.approx(wanted, abs=40 / 48)
        assert not told(outcome, "sunk")


def test_a_tall_part_says_what_sinking_saves_in_one_finding(looked):
    """Height and fill that sinking saves, and what it cuts off, stand in the finding about proportions."""
    outcome = looked(vase(), "make", pull={"direction": "z"}, base={"sink_mm": 0.0})
    (tall,) = told(outcome, "tall-part")
    assert not told(outcome, "sinking-saves")
    # the room under the widest outline: a cylinder less the frustum; slices of 90 / 48 mm
    frustum = math.pi * 40 / 3 * (34**2 + 34 * 16 + 16**2)
    saved, cut = math.pi * 34**2 * 40 - frustum, frustum
    words = tall.words.split("saves ")[1]
    assert float(words.split(" mm")[0]) == pytest.approx(40.0, abs=90 / 48)
    assert float(words.split("about ")[1].split(" cm3")[0]) == pytest.approx(saved / 1000, rel=0.07)
    assert float(words.split("cuts off ")[1].split(" cm3")[0]) == pytest.approx(cut / 1000, rel=0.07)


def test_a_tall_part_that_nothing_would_save_says_so_plainly(looked):
    (tall,) = told(looked(crate(), pull={"direction": "z"}), "tall-part")
    assert "saves" not in tall.words


def test_a_low_part_is_offered_its_widest_outline(looked):
    outcome = looked(ball(), "make", pull={"direction": "z"}, base={"sink_mm": 0.0})
    (offer,) = told(outcome, "sinking-saves")
    saved = float(offer.words.split("about ")[1].split(" cm3")[0])
    assert saved == pytest.approx(math.pi * 20**3 / 3 / 1000, abs=1.0)


def test_two_sides_that_are_as_good_are_told(looked):
    """A block with a lump on either side, one a little larger: figures cannot say which is the front."""
    heads = Manifold.sphere(14, 40).translate((0, -24, 0)) + Manifold.sphere(13.6, 40).translate((0, 24, 3))
    outcome = looked(Manifold.sphere(26, 48) + heads, pull={"directions": 120})
    setups = outcome.report["setups"]
    near = setups[1]["score"] <= 1.05 * setups[0]["score"]
    assert bool(told(outcome, "close-setups")) == near
