"""How pockets are served, with pockets of known places."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from buckwright.relief.columns import Columns
from buckwright.shape.vents.face_hole import FaceHole
from buckwright.shape.vents.fitting import Pocketed, Vented, fit_vents
from buckwright.shape.vents.settings import VentSettings
from buckwright.shape.vents.vent import FOOT, BoreSizes, Vent, VentPlan

SLOT = FaceHole("slot", 0.5, 3.0, 1.5, "", 0.75)
SHORT = FaceHole("slot", 0.5, 1.5, 0.75, "", 0.75)
DIMPLE = FaceHole("dimple", 0.75, 0.75, 0.44, "", 0.75)


@dataclass(frozen=True)
class Strips:
    """Pockets 10 mm wide side by side along x, one for each depth."""

    depths_mm: tuple[float, ...]

    @property
    def pockets(self):
        return tuple(
            SimpleNamespace(depth_mm=depth, volume_mm3=100.0, deepest_mm=(10.0 * n + 5.0, 0.0, 20.0))
            for n, depth in enumerate(self.depths_mm)
        )

    def pocket_at(self, places):
        number = np.floor(places[:, 0] / 10.0).astype(np.int64)
        return np.where((number >= 0) & (number < len(self.depths_mm)), number, -1)


def pocketed(*depths):
    pockets = Strips(depths)

    def points(spacing, ring):
        taken = set(pockets.pocket_at(ring).tolist())
        return [(n, one.deepest_mm) for n, one in enumerate(pockets.pockets) if n not in taken]

    def seconds(volumes, count, plan):
        return [1.0 / one if one > 0 else np.inf for one in count]

    return Pocketed(pockets, points, seconds)


def vent(x, pocket, face=SLOT):
    return Vent((x, 0.0, 20.0), face, 4.0, 17.0, 20.5, pocket, 0.0)


def plan(*vents):
    return VentPlan(vents, BoreSizes(), SLOT, (), ())


def test_pockets_are_told_apart_by_what_opens_into_them():
    """The third pocket's own vent, moved, opens into the fourth; the foot's lies in the fifth."""
    made = plan(vent(5.0, 0), vent(15.0, 1, DIMPLE), vent(31.0, 2), vent(45.0, FOOT))
    air = pocketed(1.0, 2.0, 3.0, 4.0, 5.0, 6.5, 7.0)
    states = air.states(made)
    assert states == ("vented", "to drill", "vented", "shared", "vented", "bare", "bare")
    times = air.times(made)
    assert np.isfinite(times).tolist() == [True, True, True, True, True, False, False]
    figures = Vented(made, tuple(times), None, states).figures(air.pockets.pockets, trim_z_mm=20.5)
    assert (figures["pockets"], figures["vented"], figures["bare"]) == (7, 3, 2)
    assert figures["deepest_bare"] == {"depth_mm": 7.0, "at_mm": [65.0, 0.0, 20.0]}
    assert (figures["vents_to_drill"], figures["below_trim_line"]) == (1, 4)
    assert figures["bores"] == {"straight": 4, "slanted": 0, "elbow": 0}


def test_a_shorter_slot_counts_by_its_opening():
    air = pocketed(1.0)
    whole, half = (air.times(plan(vent(5.0, 0, face)))[0] for face in (SLOT, SHORT))
    assert half == pytest.approx(2 * whole)


def test_the_ring_along_the_foot_serves_the_pocket_that_it_lies_in(terrain):
    columns = Columns(terrain(lambda x, y: 20.0 + 0 * x, side=120.0, count=5))
    air = pocketed(4.0, 3.0)
    made = fit_vents(np.array([[5.0, 0.0]]), columns, SLOT, VentSettings(target_s=2.0), air)
    assert [vent.pocket for vent in made.plan.vents] == [1, FOOT]
    assert made.plan.foot_count == 1
    assert [mark.number for mark in made.marks(foot=False)] == [1]
    assert made.states == ("vented", "vented")
