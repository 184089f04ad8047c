"""Webs: where they must show, where they must not, and that a folding sheet comes to an end."""

import importlib
import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from buckwright.forming.forecast.findings import about_sheet
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.sheet_grid import rectangle, sheet_grid
from buckwright.forming.forecast.webs import find_webs, slack_share
from buckwright.mesh.triangles import Mesh
from buckwright.relief.raster import relief_of

HALF = np.array([30.0, 20.0])


@cache
def over_a_box(height_mm, draft_deg=0.0, nodes=2500, trim_mm=None):
    lean = np.tan(np.radians(max(draft_deg, 0.05)))
    return forecast_sheet(
        lambda q: np.clip((HALF - np.abs(q)).min(1) / lean, 0.0, height_mm),
        frame_mm=(160.0, 140.0),
        sheet_mm=1.0,
        nodes=nodes,
        quality="preview",
        trim_mm=trim_mm,
    )


def over_towers(apart_mm, nodes=2000, frame_mm=(160.0, 120.0)):
    def towers(q):
        inside = (np.abs(np.abs(q[:, 0]) - apart_mm / 2 - 10.0) < 10.0) & (np.abs(q[:, 1]) < 10.0)
        return np.where(inside, 40.0, 0.0)

    return forecast_sheet(towers, frame_mm=frame_mm, sheet_mm=1.0, nodes=nodes, quality="preview")


def folded(result):
    return sum(web.folded_area_mm2 for web in result.webs)


def test_a_tall_steep_box_has_one_web_at_each_corner():
    webs = over_a_box(40.0).webs
    assert len(webs) == 4
    quarters = {tuple(np.sign(web.where_mm[:2])) for web in webs}
    assert len(quarters) == 4
    for web in webs:
        away = np.abs(web.where_mm[:2]) - HALF
        assert (away > -2.0).all() and away.max() < 12.0  # off the corner, on its diagonal
        assert web.ends_mm[0][2] > web.ends_mm[1][2]
        assert web.length_mm == pytest.approx(math.dist(*web.ends_mm))


def test_a_shallow_or_well_drafted_box_has_none():
    assert not over_a_box(10.0).webs
    assert not over_a_box(30.0, draft_deg=25.0).webs


def test_webs_grow_with_height_and_fall_with_draft():
    by_height = [folded(over_a_box(h)) for h in (10.0, 30.0, 40.0)]
    assert by_height[0] < by_height[1] < by_height[2]
    by_draft = [folded(over_a_box(40.0, draft_deg=d)) for d in (0.0, 10.0, 25.0)]
    assert by_draft[0] > by_draft[1] >= by_draft[2]
    assert by_draft[2] < 0.2 * by_draft[0]


def test_the_number_of_webs_does_not_hang_on_the_net():
    for height_mm, expected in ((10.0, 0), (30.0, 4), (40.0, 4)):
        for nodes in (1500, 2500, 5000):
            webs = over_a_box(height_mm, nodes=nodes).webs
            assert len(webs) == expected
            # two nets differ in length by less than a fifth
            lengths = [web.length_mm for web in webs]
            assert max(lengths, default=1.0) < 1.2 * min(lengths, default=1.0)


def test_a_web_stands_between_two_close_towers_and_not_between_far_ones():
    assert any(
        np.abs(web.where_mm[0]) < 6.0 and np.abs(web.where_mm[1]) < 20.0 for web in over_towers(8.0).webs
    )
    # the ridge from top to top folds at one and a half times the height of the towers, not at three times
    for apart, folds in ((60.0, True), (120.0, False)):
        webs = over_towers(apart, nodes=3000, frame_mm=(240.0, 160.0)).webs
        assert any(np.abs(web.where_mm[0]) < 6.0 for web in webs) == folds


def test_only_webs_are_thicker_than_the_sheet():
    result = over_a_box(40.0)
    thick = result.points[result.thickness_mm > 1.02]
    assert len(thick)
    for point in thick:
        reach = [math.dist(point[:2], web.where_mm[:2]) - 0.6 * web.length_mm for web in result.webs]
        assert min(reach) < 2.0 * result.settings.cell_mm


def test_a_heron_is_thicker_than_the_sheet_only_where_the_sheet_is_squeezed(monkeypatch):
    # at 20,000 nodes two hollows of the brow join in, 5 % thicker, with half the step just the same
    monkeypatch.syspath_prepend(str(Path(__file__).parents[2] / "sample_scenes"))
    points, faces = importlib.import_module("sculpts.heron_mask").sculpt(4.0)
    points = points * 120.0 / np.ptp(points, axis=0).max()
    points = points - [0.0, 0.0, points[:, 2].min()]
    width, depth, _ = np.ptp(points, axis=0) + 60.0
    relief = relief_of(Mesh.from_arrays(points, faces), pixel_mm=0.5)
    result = forecast_sheet(relief, frame_mm=(width, depth), sheet_mm=0.75, nodes=5000)
    thick = result.thickness_mm > 1.005 * 0.75
    assert 0 < thick.sum() < 0.01 * len(thick)
    ref = reference(result.flat, result.triangles)
    slack = slack_share(result.points, ref) > 0.05
    squeezed = np.zeros(len(thick), bool)
    squeezed[result.triangles[slack | result.formed.turned]] = True
    assert squeezed[thick].all()
    assert squeezed.mean() < 0.1
    apart = result.points[thick & (result.thickness_mm > 1.1 * 0.75)]
    folds = find_webs(result.points, ref, turned=result.formed.turned)  # with those too short to count
    for point in apart:
        reach = [math.dist(point[:2], web.where_mm[:2]) - 0.6 * web.length_mm for web in folds]
        assert min(reach) < 2.0 * result.settings.cell_mm


def test_trim_line_and_words():
    result = over_a_box(40.0, trim_mm=5.0)
    assert all(web.crosses_trim_line for web in result.webs)
    words = [f for f in about_sheet(result) if f.words.startswith("A web")]
    assert len(words) == 4 and all("crosses the trim line" in f.words and f.severity == "warn" for f in words)
    assert all("own heuristic" in f.words for f in words)
    assert all(web.crosses_trim_line is None for web in over_a_box(40.0).webs)


def test_a_folding_sheet_ends_within_its_steps():
    result = over_towers(8.0, nodes=1200)
    cap = 0.5 * result.settings.cell_mm
    way = 40.0 + 40.0 + 160.0  # of the frame, of the ground, and the width of the frame
    assert len(result.formed.pressure_per_mm) <= math.ceil(8.0 * way / cap) + 1
    assert np.isfinite(result.points).all() and np.isfinite(result.thickness_mm).all()
    assert abs(result.volume_error) <= 1e-9
    if result.formed.forced:  # then it says so
        assert any("did not come to rest" in f.words for f in about_sheet(result))


def lying(narrow, lean=1.0):
    """A flat sheet that lies so much narrower than it is, tilted until its normal's height is `lean`."""
    grid = sheet_grid(rectangle(40.0, 40.0), nodes=200)
    points = np.column_stack([grid.nodes * [1.0, 1.0 - narrow], np.zeros(len(grid.nodes))])
    across = np.sqrt(1.0 - lean**2)
    turn = np.array([[1.0, 0.0, 0.0], [0.0, lean, -across], [0.0, across, lean]])
    return points @ turn.T, reference(grid.nodes, grid.triangles)


def beside_each_other(ref, count):
    """So many triangles round a node."""
    node = np.bincount(ref.triangles.ravel()).argmax()
    turned = np.zeros(len(ref.triangles), bool)
    turned[np.flatnonzero((ref.triangles == node).any(axis=1))[:count]] = True
    return turned


@pytest.mark.parametrize(
    ("turned", "narrow", "webs"), [(4, 0.15, 1), (3, 0.15, 0), (4, 0.05, 0), (5, 0.11, 1)]
)
def test_a_web_holds_four_folded_triangles_and_is_slack_by_a_tenth(turned, narrow, webs):
    points, ref = lying(narrow)
    assert len(find_webs(points, ref, turned=beside_each_other(ref, turned))) == webs


@pytest.mark.parametrize(("lean", "webs"), [(-0.05, 0), (-0.15, 1)])
def test_what_leans_under_by_a_tenth_is_folded(lean, webs):
    points, ref = lying(0.15, lean)
    assert len(find_webs(points, ref, turned=np.zeros(len(ref.triangles), bool))) == webs


def test_slack_of_a_strip():
    grid = sheet_grid(rectangle(10.0, 10.0), nodes=100)
    ref = reference(grid.nodes, grid.triangles)
    pulled = np.column_stack([grid.nodes * [1.5, 1.5**-0.5], np.zeros(len(grid.nodes))])
    assert slack_share(pulled, ref).max() < 1e-9  # natural width
    narrow = pulled * [1.0, 0.8, 1.0]
    assert slack_share(narrow, ref) == pytest.approx(0.2, abs=1e-9)
    assert find_webs(narrow, ref, turned=np.zeros(len(grid.triangles), bool)) == ()  # slack, but no fold
