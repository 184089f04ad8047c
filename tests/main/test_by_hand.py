"""What a user sets by hand in a job: places of vents, the outline of the base, holes of the platen."""

import numpy as np
import pytest
from manifold3d import CrossSection

from buckwright.errors import JobError
from buckwright.shape.vents.vent import OPEN

#: Bottoms of the idol's two eye bowls and a place on its crown, in its own coordinates.
EYES = [[9.0, -8.0, 33.0], [-9.0, -8.0, 33.0]]
CROWN = [0.0, 5.0, 37.0]
BARE = {"underside": {"engrave": False, "fixing": "none"}}


def _words(outcome):
    return [finding["words"] for finding in outcome.report["findings"]]


def _lift(outcome):
    return np.array(outcome.report["frame"]["matrix"])


def _placed(outcome, points):
    matrix = _lift(outcome)
    return np.asarray(points) @ matrix[:3, :3].T + matrix[:3, 3]


@pytest.fixture(scope="module")
def by_hand(run):
    """The idol with vents in its eyes and on its crown, the foot ring off."""
    return run("idol", vents={"at_mm": [*EYES, CROWN], "foot_ring": False}, **BARE)


def test_just_the_placed_vents_are_made(by_hand):
    outcome, _ = by_hand
    vents = outcome.report["vents"]
    assert len(vents) == 3
    assert outcome.report["buck"]["tunnels"] >= 3
    wanted = _placed(outcome, [*EYES, CROWN])
    for vent, place in zip(vents, wanted, strict=True):
        assert np.hypot(*(np.array(vent["top_mm"][:2]) - place[:2])) == pytest.approx(
            vent["moved_mm"], abs=1e-3
        )
        assert vent["moved_mm"] < 3.1
    pockets = [vent["pocket"] for vent in vents]
    assert min(pockets[:2]) >= 0 and len(set(pockets[:2])) == 2
    assert pockets[2] == OPEN
    times = outcome.report["evacuation_s"]
    assert all(times[pocket] is not None for pocket in pockets[:2])


def test_pockets_without_a_placed_vent_are_named(by_hand):
    outcome, _ = by_hand
    unserved = sum(seconds is None for seconds in outcome.report["evacuation_s"])
    told = [words for words in _words(outcome) if "have none of the placed vents" in words]
    assert len(told) == bool(unserved)


def test_vents_that_do_not_fit_are_named_and_the_foot_ring_stays(run):
    far = [400.0, 0.0, 0.0]
    outcome, _ = run("idol", vents={"at_mm": [EYES[0], EYES[0], far]}, **BARE)
    vents = outcome.report["vents"]
    assert [vent["pocket"] >= 0 for vent in vents].count(True) == 1
    assert sum(vent["pocket"] == -1 for vent in vents) > 3
    told = [words for words in _words(outcome) if words.startswith("The vent placed at")]
    assert len(told) == 2
    assert any("no surface there" in words for words in told)
    assert any("too close" in words for words in told)


def test_no_places_at_all_leave_only_the_foot_ring(run):
    outcome, _ = run("cone", vents={"at_mm": []}, **BARE)
    assert {vent["pocket"] for vent in outcome.report["vents"]} == {-1}


def test_places_follow_the_pull_and_the_unit(run, sculpt_file, shape):
    # the idol lies on its back, in centimetres: the pull is along y
    turn = np.array([[1.0, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]])
    path = sculpt_file(shape("idol"), scale=0.1, matrix=turn)
    places = (np.array([*EYES, CROWN]) @ turn[:3, :3].T).tolist()
    outcome, _ = run(
        path,
        sculpt={"unit": "cm"},
        pull={"direction": "y"},
        vents={"at_mm": places, "foot_ring": False},
        **BARE,
    )
    wanted = _placed(outcome, np.array(places) / 10.0)
    tops = np.array([vent["top_mm"] for vent in outcome.report["vents"]])
    moved = np.array([vent["moved_mm"] for vent in outcome.report["vents"]])
    np.testing.assert_allclose(np.hypot(*(tops - wanted)[:, :2].T), moved, atol=1e-3)
    np.testing.assert_allclose(tops[:, 2], wanted[:, 2], atol=1.5)


OUTLINE = [[-70.0, -60.0], [70.0, -60.0], [70.0, 55.0], [-70.0, 55.0]]


def _underside(read_back, folder):
    """What the written buck covers just over the platen."""
    from manifold3d import Manifold, Mesh64

    mesh = read_back(folder / "buck.stl")
    return Manifold(Mesh64(mesh.vertices, mesh.faces.astype(np.uint64))).slice(1e-3)


@pytest.mark.parametrize("style", ["flange", "plinth"])
def test_the_base_takes_the_drawn_outline(run, read_back, style):
    # drawn the other way round, which must not matter
    base = {"outline_mm": OUTLINE[::-1], "style": style}
    outcome, folder = run("cone", base=base, vents={"enabled": False}, **BARE)
    wanted = CrossSection([_placed(outcome, [[x, y, 0.0] for x, y in OUTLINE])[:, :2]])
    found = _underside(read_back, folder)
    # only the corners are rounded
    assert (found - wanted).area() < 1.0
    assert (wanted - found).area() < 0.02 * wanted.area()
    assert outcome.report["buck"]["watertight"]
    assert not any("widened" in words for words in _words(outcome))


def test_an_outline_that_cuts_the_part_is_widened_with_words(run, read_back):
    base = {"outline_mm": [[0.0, -60.0], [70.0, -60.0], [70.0, 60.0], [0.0, 60.0]]}
    outcome, folder = run("cone", base=base, vents={"enabled": False}, **BARE)
    assert any("widened where it came too close" in words for words in _words(outcome))
    x0, _, x1, _ = _underside(read_back, folder).bounds()
    assert x0 < -21.0
    assert x1 == pytest.approx(_placed(outcome, [[70.0, 0.0, 0.0]])[0, 0], abs=0.01)
    assert outcome.report["buck"]["watertight"]


def test_an_outline_without_area_is_refused(run):
    line = [[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]]
    with pytest.raises(JobError, match="encloses only"):
        run("cone", base={"outline_mm": line})


def test_channels_lead_to_holes_of_the_platen(run):
    # a hole in the middle is nearer to a vent in the middle than any edge
    vents = {"at_mm": [[4.0, 0.0, 20.0]], "foot_ring": False}
    outcome, _ = run("cone", vents=vents | {"platen_holes_mm": [[-4.0, 0.0], [500.0, 0.0]]}, **BARE)
    channels = outcome.report["underside"]["channels"]
    assert (channels["platen_holes"], channels["exits"]) == (1, 1)
    assert channels["length_mm"] < 10.0
    assert any("lead to 1 hole of the platen" in words for words in _words(outcome))
    missed, _ = run("cone", vents=vents | {"platen_holes_mm": [[500.0, 0.0]]}, **BARE)
    assert missed.report["underside"]["channels"]["platen_holes"] == 0
    assert any("any of the 1 hole of the platen" in words for words in _words(missed))
