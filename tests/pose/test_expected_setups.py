"""The first setup is what a maker would take, whichever way the file is turned."""

import os

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.search import find_setups

ANY_FACE = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
ENDS = [(0, 0, 1), (0, 0, -1)]

# Sculpt: the pulls that are right (equivalent ones by symmetry), whether it is sunk, and why.
EXPECTED = {
    # Any face down: the walls are upright and nothing is trapped; on an edge half of it would be.
    "cube": (ANY_FACE, False),
    # On its slope, the largest face: it is lowest there and both other faces lean back.
    "wedge": ([(-1, 0, -2)], False),
    # Standing: all of it is kept. Lying, the lower half would be lost.
    "cylinder": (ENDS, False),
    # Flat, for the same reason, and shallow too.
    "annulus": (ENDS, False),
    # On its whole broad face, so that the slant looks up.
    "cut_box": ([(0, 0, -1)], False),
    # On its back, the chin raised a little to show what is under nose and brow; the back is lost.
    "bust": ([(0, -1, -0.12)], True),
    "head": ([(0, -1, -0.12)], True),
    # On its side, sunk to the middle: head, back, belly, tail and legs all show. Standing it would be a block
    # under the belly; on its back its legs would be pins and its face would be lost.
    "animal": ([(0, 1, 0), (0, -1, 0)], True),
    # As it stands on its rim: the hollow behind is not the part.
    "half_mask": ([(0, -1, 0)], False),
    # Arched over the platen, as a mask; upright it would be a thin wall, inside out it would lose its studs.
    "crown": ([(0, -1, 0)], False),
    # As it lies on its plate.
    "relief": ([(0, 0, 1)], False),
    # Standing, as the cylinder.
    "tube": (ENDS, False),
    # Open side down.
    "mask_scan": ([(0, -1, 0)], False),
}
EVERY_TURN = bool(os.environ.get("BUCKWRIGHT_ALL_SETTINGS"))
"""A usual run turns every third sculpt, `make explore` all of them."""
TURNS = [np.eye(3), Rotation.random(random_state=1).as_matrix()]


def away_deg(direction, expected):
    """Angle to the nearest of the expected directions."""
    ways = np.array(expected, float)
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    return float(np.degrees(np.arccos(np.clip((ways @ direction).max(), -1.0, 1.0))))


@pytest.mark.parametrize("name", EXPECTED)
def test_the_first_setup_is_what_a_maker_would_take(sculpt, name):
    mesh = sculpt(name)
    assert mesh.face_count < 20_000
    expected, sunk = EXPECTED[name]
    costs = []
    turned_too = EVERY_TURN or list(EXPECTED).index(name) % 3 == 0
    for turn in TURNS if turned_too else TURNS[:1]:
        turned = Mesh(np.ascontiguousarray(mesh.vertices @ turn.T), mesh.faces)
        best = find_setups(turned, draft_deg=3.0, previews=False)[0]
        assert away_deg(np.array(best.direction) @ turn, expected) < 10.0
        assert (best.figures.sink_mm > 0.0) == sunk
        costs.append(best.cost)
    assert max(costs) <= 1.02 * min(costs)
