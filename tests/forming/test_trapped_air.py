"""Air that the sheet seals off: merge tree, craters, and vents that drain them."""

from functools import cache

import numpy as np
import pytest

from buckwright.forming.forecast.air_paths import triangle_over
from buckwright.forming.forecast.findings import about_sheet
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.trapped_air import merge_tree
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns

RIM, OUTER, DEEP, TALL = 14.0, 18.0, 9.0, 12.0


def cup(q):
    """A round cup: a rounded crater of radius 14 and depth 9 within a drafted wall."""
    r = np.hypot(*q.T)
    wall = np.clip((OUTER + 2.0 - r) * 3.0, 0.0, TALL)
    return np.where(r < RIM, TALL - DEEP * (1.0 - (r / RIM) ** 2), wall)


@cache
def over_the_cup(vents=None, begun=None, **settings):
    places = None if vents is None else np.array(vents).reshape(-1, 2)
    asked = {"frame_mm": (90.0, 90.0), "sheet_mm": 1.0, "nodes": 2500} | settings
    return forecast_sheet(cup, vents_mm=places, begun=begun, **asked)


@pytest.mark.parametrize("settings", [{}, {"friction": 0.3, "nodes": 400, "finest_mm": 8.0}])
def test_a_run_goes_on_where_another_had_its_frame_down(settings):
    vents = ((0.0, 0.0),)
    ticks = []
    begun = over_the_cup(**settings)
    went_on = over_the_cup(vents, begun, **settings, tick=ticks.append)
    anew = over_the_cup(vents, **settings)
    for name in ("points", "state", "touched", "turned", "snapshots", "snapshot_steps", "frame_mm"):
        np.testing.assert_array_equal(getattr(went_on.formed, name), getattr(anew.formed, name))
    assert went_on.to_dict() == anew.to_dict()
    # what sticks is not lowered again; what slides carries more along than is kept
    assert (min(ticks) >= 0.5) == ("friction" not in settings)


def test_the_triangles_over_a_few_places_are_those_over_many():
    rng = np.random.default_rng(4)
    sheet = over_the_cup()
    places = rng.uniform(-50.0, 50.0, (300, 2))
    places[:40] = sheet.points[rng.integers(0, len(sheet.points), 40), :2]
    everywhere = Columns(Mesh(sheet.points, sheet.triangles)).top(places)[1]
    np.testing.assert_array_equal(triangle_over(places, sheet.points, sheet.triangles), everywhere)
    assert (everywhere < 0).any() and (everywhere >= 0).any()
    far = np.array([[200.0, 0.0]])
    assert triangle_over(far, sheet.points, sheet.triangles).tolist() == [-1]
    assert triangle_over(far[:0], sheet.points, sheet.triangles).shape == (0,)


def test_the_tree_of_a_row():
    # a row of nodes, air only at its left end: 0 open, then contact times with two hollows behind a rim
    time = np.array([9.0, 2.0, 5.0, 3.0, 7.0, 1.0])
    ends = np.array([[0, 1], [1, 2], [2, 3], [3, 4], [4, 5]], np.int32)
    died = merge_tree(time, ends, np.array([True, False, False, False, False, False]))
    # node 4 loses its way when node 1 is touched; node 2, the younger, when it parts from 4 at node 3
    assert died[4] == 2.0 and died[2] == 3.0
    assert np.isnan(died[0])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_tree_against_brute_force(seed):
    rng = np.random.default_rng(seed)
    side = 9
    time = rng.permutation(side * side).astype(float)
    name = np.arange(side * side).reshape(side, side)
    ends = np.concatenate(
        [
            np.stack([name[:, :-1].ravel(), name[:, 1:].ravel()], 1),
            np.stack([name[:-1].ravel(), name[1:].ravel()], 1),
        ]
    ).astype(np.int32)
    open_air = np.zeros(side * side, bool)
    open_air[name[0]] = True
    died = merge_tree(time, ends, open_air)
    # widest path to the open air by relaxation: the load at which each node is shut in
    way = np.where(open_air, time, -np.inf)
    for _ in range(side * side):
        for a, b in (ends.T, ends.T[::-1]):
            np.maximum.at(way, b, np.minimum(way[a], time[b]))
    neighbours = [[] for _ in time]
    for a, b in ends:
        neighbours[a].append(b)
        neighbours[b].append(a)
    peaks = [v for v in range(side * side) if all(time[v] > time[w] for w in neighbours[v])]
    for v in peaks:
        if way[v] >= time[v]:
            continue  # drains until it is touched
        # the tallest peak of each shut-in region dies exactly when the region is shut in
        region, todo = {v}, [v]
        while todo:
            for w in neighbours[todo.pop()]:
                if w not in region and time[w] > way[v]:
                    region.add(w)
                    todo.append(w)
        if time[v] == max(time[w] for w in region):
            assert died[v] == way[v]
        else:
            assert way[v] <= died[v] < time[v]
    assert all(np.isnan(died[v]) or died[v] < time[v] for v in peaks)


def test_a_crater_is_shut_in_with_its_bottom_touched_last():
    result = over_the_cup()
    deepest = result.trapped_air[0]
    assert np.hypot(*deepest.last_touched_mm[:2]) < 0.15 * RIM
    assert deepest.last_touched_mm[2] == pytest.approx(TALL - DEEP, abs=0.3)
    assert 0.0 < deepest.sealed_share < 1.0
    # at most the hollow up to its rim, a paraboloid: pi/2 r^2 h
    hollow = np.pi / 2 * RIM**2 * DEEP
    assert 0.5 * hollow < deepest.volume_mm3 < 1.1 * hollow
    assert 0.6 * DEEP < deepest.depth_mm < 1.1 * DEEP
    assert any("traps air in" in f.words and f.severity == "warn" for f in about_sheet(result))


def test_without_a_vent_it_stays_bridged_with_one_it_drains():
    first = over_the_cup()
    shut = over_the_cup(())
    inside = np.hypot(*shut.points[:, :2].T) < 0.5 * RIM
    assert shut.gap_mm[inside].max() > 0.5 * DEEP
    assert shut.trapped_air[0].left_mm > 0.5 * DEEP
    assert any("stays bridged" in f.words for f in about_sheet(shut))

    x, y, _ = first.trapped_air[0].last_touched_mm
    drained = over_the_cup((x, y))
    inside = np.hypot(*drained.points[:, :2].T) < 0.5 * RIM
    assert drained.gap_mm[inside].max() < 0.1
    assert not [p for p in drained.trapped_air if p.left_mm > 0.5]
    assert not any("stays bridged" in f.words for f in about_sheet(drained))
    assert drained.settings.vents == 1 and shut.settings.vents == 0 and first.settings.vents is None


def test_a_convex_form_seals_nothing():
    result = forecast_sheet(
        lambda q: np.maximum(15.0 - 0.03 * (q**2).sum(1), 0.0),
        frame_mm=(80.0, 80.0),
        sheet_mm=1.0,
        nodes=1200,
    )
    assert not result.trapped_air
    assert not any(f.slug == "trapped-air" for f in about_sheet(result))


def test_a_finer_pocket_than_asked_for_does_not_count():
    assert not forecast_sheet(
        cup, frame_mm=(90.0, 90.0), sheet_mm=1.0, nodes=1200, least_pocket_mm=2 * DEEP
    ).trapped_air
