"""Take-up blocks: they come off, they are kept only where they help, and they help on two steep parts."""

from types import SimpleNamespace as Made

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

import buckwright.api as bw
from buckwright.errors import JobError
from buckwright.forming.forecast.buck_forecast import form_on
from buckwright.forming.forecast.over_trim import folds_over, over_mm
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.forming.forecast.stage import levels_of
from buckwright.mesh.manifolds import from_manifold
from buckwright.relief.columns import Columns
from buckwright.shape.base.blocks import Block, block_feet
from buckwright.shape.base.building import build_blank
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.take_up.findings import about_take_up
from buckwright.shape.take_up.seeking import Fold, Room, seek_blocks, spots_of
from buckwright.shape.take_up.settings import TakeUpSettings
from buckwright.shape.take_up.taken_up import as_given, as_sought
from buckwright.shape.take_up.trying import Trying

DRAFT_DEG = 5.0


def steep_box(width=60.0, depth=40.0, high=60.0):
    """A box with three degrees of draft."""
    lean = high * np.tan(np.radians(3.0))
    foot, top = [
        [(x * (width / 2 - inset), y * (depth / 2 - inset), z) for x in (1, -1) for y in (1, -1)]
        for inset, z in ((0.0, 0.0), (lean, high))
    ]
    return Manifold.hull_points(np.array(foot + top))


def two_towers():
    """Two towers on one low board, 30 mm apart."""
    tower = steep_box(20.0, 20.0, 40.0)
    board = Manifold.cube((70.0, 20.0, 4.0)).translate((-35.0, -10.0, 0.0))
    return tower.translate((25.0, 0.0, 0.0)) + tower.translate((-25.0, 0.0, 0.0)) + board


def blank_of(body, blocks=(), **base):
    chosen = BaseSettings(**({"riser_mm": 24.0} | base))
    return build_blank(
        body, None, base=chosen, sheet_mm=1.0, draft_deg=1.0, channel_mm=2.5, blocks=tuple(blocks)
    )


def folds_on(blank, quality):
    levels = levels_of(blank)
    run = form_on(
        blank.mesh,
        levels,
        ForecastSettings(),
        sheet_mm=1.0,
        plenum_kpa=10.0,
        quality=quality,
        tick=lambda _share: None,
    )
    return [
        Fold(
            x_mm=web.where_mm[0],
            y_mm=web.where_mm[1],
            length_mm=web.length_mm,
            over_mm=over_mm(web, levels.trim_mm),
        )
        for web in folds_over(run, levels.trim_mm)
    ]


def trying(body):
    return Trying(
        lambda blocks: blank_of(body, blocks),
        folds_on,
        "preview",
        least_web_mm=20.0,
        told=lambda _share: None,
    )


def corners(x, y, top, radius):
    """Four blocks at the corners of a rectangle, as a job gives them over the foot of the part."""
    return np.array([(sx * x, sy * y, top) for sx in (1, -1) for sy in (1, -1)]), np.full(4, radius)


def test_given_blocks_at_the_corners_halve_the_webs_of_a_box():
    taken = as_given(*corners(30.5, 20.4, -5.1, 2.7), TakeUpSettings(), trying(steep_box()))
    assert taken.given and taken.webs >= 4
    assert taken.after_mm <= 0.5 * taken.before_mm
    assert taken.over_after_mm <= taken.over_before_mm


def test_blocks_that_are_given_tell_what_they_do():
    """Between towers much hangs on the height of the blocks; these are about those that the search finds."""
    taken = as_given(*corners(35.4, 10.4, -4.0, 2.4), TakeUpSettings(), trying(two_towers()))
    assert taken.given and taken.webs >= 4 and len(taken.blocks) == 4
    assert taken.before_mm > 100.0 and taken.after_mm < taken.before_mm
    (found,) = about_take_up(taken, trim_mm=30.0)
    assert f"{taken.after_mm:.0f} mm" in found.words and f"{taken.before_mm:.0f} and" in found.words


@pytest.mark.parametrize("body", [steep_box, two_towers])
def test_blocks_that_are_sought_halve_the_webs(body):
    taken = as_sought(TakeUpSettings(), trying(body()), flange=True)
    assert 4 <= len(taken.blocks) <= 6 and not taken.given
    assert taken.after_mm <= 0.5 * taken.before_mm
    assert taken.over_after_mm <= 1.05 * taken.over_before_mm


def blocks_round(body, tall=8.0):
    wall = blank_of(body).plan.levels[0][1]
    x0, y0, x1, y1 = wall.bounds()
    return [
        Block(x_mm=x, y_mm=y, top_mm=6.0 + tall, radius_mm=3.0, draft_deg=DRAFT_DEG)
        for x, y in ((x1 + 2.0, y1 + 1.0), (x0 - 15.0, y0 - 25.0), (0.0, y1 + 4.0))
    ]


def test_a_buck_with_blocks_comes_off():
    body = two_towers()
    blocks = blocks_round(body)
    blank = blank_of(body, blocks)
    assert len(blank.solid.decompose()) == 1 and blank.solid.genus() == 0
    mesh = blank.mesh
    vectors = mesh.area_vectors()
    assert (mesh.corners()[vectors[:, 2] < -1e-9][:, :, 2] == 0.0).all(), "only the underside looks down"
    # the wall of each block leans by its own draft
    leans = np.degrees(np.arcsin(np.clip(vectors[:, 2] / np.linalg.norm(vectors, axis=1), -1.0, 1.0)))
    middle = mesh.centroids()
    for block in blocks:
        near = np.hypot(middle[:, 0] - block.x_mm, middle[:, 1] - block.y_mm)
        upright = (middle[:, 2] > 9.0) & (middle[:, 2] < block.top_mm - 2.0) & (near < block.radius_mm + 1.0)
        outer = upright & (np.abs(middle[:, 1]) > 11.5 + block.radius_mm * 0.2)
        assert outer.any() and leans[outer].min() > DRAFT_DEG - 0.1
        assert blank.solid.slice(block.top_mm - 0.01).area() > np.pi * (block.radius_mm - 2.0) ** 2


def test_the_flange_reaches_under_every_block_and_the_vents_of_the_foot_go_round():
    body = two_towers()
    blocks = blocks_round(body)
    bare, plan = blank_of(body).plan, blank_of(body, blocks).plan
    feet = block_feet(blocks, plan.flange_z_mm)
    assert (feet - plan.underside).area() < 1e-9 and (bare.underside - plan.underside).area() < 1e-6
    assert len(plan.underside.decompose()) == 1
    assert (feet - plan.foot_ring).area() < 1e-6 and (bare.foot_ring - plan.foot_ring).area() < 1e-6
    assert plan.size_mm[1] > bare.size_mm[1] and plan.trim_z_mm == bare.trim_z_mm


def test_a_plinth_has_no_flange_for_blocks():
    with pytest.raises(JobError, match="flange"):
        blank_of(steep_box(), blocks_round(steep_box()), style="plinth")
    assert as_sought(TakeUpSettings(), trying(steep_box()), flange=False).blocks == ()


def test_a_block_stands_outside_the_corner_and_two_where_the_web_is_over_the_part():
    wall = CrossSection.square((40.0, 20.0), True)
    ((near, outward),) = spots_of(Fold(x_mm=23.0, y_mm=13.0, length_mm=20.0, over_mm=5.0), wall)
    assert near == pytest.approx([20.0, 10.0]) and outward == pytest.approx([0.5**0.5, 0.5**0.5])
    both = spots_of(Fold(x_mm=1.0, y_mm=2.0, length_mm=20.0, over_mm=20.0), wall)
    assert [near.tolist() for near, _ in both] == [[1.0, 10.0], [1.0, -10.0]]
    assert [outward.tolist() for _, outward in both] == [[0.0, 1.0], [0.0, -1.0]]
    assert spots_of(Fold(x_mm=20.0, y_mm=0.0, length_mm=20.0, over_mm=20.0), wall) == []


def pretended(left):
    """Two webs at the corners of a wall, and what blocks of some radius leave of each, by `left`."""
    webs = [Fold(x_mm=x, y_mm=13.0, length_mm=30.0, over_mm=10.0) for x in (23.0, -23.0)]

    def try_out(blocks):
        folds = []
        for web in webs:
            mine = [block for block in blocks if block.x_mm * web.x_mm > 0.0]
            length, over = left(web, mine[0]) if mine else (web.length_mm, web.over_mm)
            folds.append(Fold(x_mm=web.x_mm, y_mm=13.0, length_mm=length, over_mm=over))
        return folds

    room = Room(
        wall=CrossSection.square((40.0, 20.0), True), trim_mm=30.0, floor_mm=6.0, top_mm=29.0, draft_deg=5.0
    )
    return seek_blocks(webs, webs, room, try_out, lambda _share: None)


def test_each_web_takes_its_own_best():
    """The right web wants wide blocks, the left one low ones."""

    def left(web, block):
        return (30.0 - 4.0 * block.radius_mm if web.x_mm > 0.0 else block.top_mm - 15.0), 8.0

    found = pretended(left)
    right, other = sorted(found.blocks, key=lambda block: -block.x_mm)
    tried = [trial.radius_mm for trial in found.trials], [trial.top_mm for trial in found.trials]
    assert right.radius_mm == max(tried[0]) and other.top_mm == min(tried[1])
    assert sum(fold.length_mm for fold in found.folds) == found.trials[-1].length_mm


def test_a_web_that_blocks_do_not_shorten_gets_none():
    found = pretended(lambda web, _block: (10.0 if web.x_mm > 0.0 else 29.0, 5.0))
    (block,) = found.blocks
    assert block.x_mm > 0.0


@pytest.mark.parametrize("left", [(29.0, 5.0), (10.0, 10.6), (40.0, 12.0)])
def test_nothing_is_kept_that_lets_more_stand_above_the_trim_line(left):
    found = pretended(lambda _web, _block: left)
    assert found.blocks == () and len(found.trials) >= 8


MORE = "A higher riser gives blocks more room, and lets webs end lower."


def pretended_on(riser, left, asked):
    """A wall of 40 x 20 mm on some riser; `left` says what webs are left on it, by blocks or none."""
    asked.append(riser)

    def blank_with(blocks):
        wall = CrossSection.square((40.0, 20.0), True)
        plan = Made(levels=((6.0 + riser, wall),), trim_z_mm=6.0 + riser, flange_z_mm=6.0, riser_mm=riser)
        return Made(plan=plan, blocks=blocks)

    def folds(blank, _quality):
        length, over = left(riser, len(blank.blocks))
        return [Fold(x_mm=x, y_mm=13.0, length_mm=length, over_mm=over) for x in (23.0, -23.0) if length]

    return Trying(
        blank_with,
        folds,
        "preview",
        least_web_mm=20.0,
        told=lambda _share: None,
        raised=lambda higher: pretended_on(higher, left, asked),
    )


@pytest.mark.parametrize(
    ("left", "advice"),
    [
        # blocks do no more than a fifth on 12 mm, twice that riser halves it with blocks
        (
            lambda riser, n: (30.0 if riser < 20.0 else 12.0 if n else 33.0, 5.0),
            "A riser of 24 mm with 2 blocks leaves 24 mm, 10 mm of it above (forecast).",
        ),
        # only three times as high, and without blocks
        (
            lambda riser, _n: (0.0 if riser > 30.0 else 30.0, 5.0),
            "A riser of 36 mm leaves none of these webs across the trim line (forecast).",
        ),
        # shorter, but more of it stands above the trim line
        (lambda riser, _n: (12.0, 7.0) if riser > 20.0 else (30.0, 5.0), MORE),
        (lambda _riser, _n: (30.0, 5.0), MORE),
    ],
)
def test_where_blocks_do_too_little_a_higher_riser_is_proposed(left, advice):
    taken = as_sought(TakeUpSettings(), pretended_on(12.0, left, []), flange=True)
    (found,) = about_take_up(taken, trim_mm=18.0)
    assert (found.advice, found.setting) == (advice, "base.riser_mm")
    # what was tried and what it measured is told, with and without blocks
    assert len(taken.trials) >= 8 and f"{len(taken.trials)} arrangement" in found.words
    assert f"{taken.before_mm:.0f} and {taken.over_before_mm:.0f} mm" in found.words
    told = taken.to_dict()["higher_riser"]
    assert (told is None) == (advice is MORE)
    assert told is None or f"{told['riser_mm']:.0f} mm" in advice


def test_blocks_that_do_too_little_are_told_with_what_was_tried():
    """A third is not half: kept, and told as such, with the riser that would halve it."""
    left = lambda riser, n: (12.0 if riser > 20.0 else 20.0 if n else 30.0, 5.0)  # noqa: E731
    taken = as_sought(TakeUpSettings(), pretended_on(12.0, left, []), flange=True)
    assert len(taken.blocks) == 2 and taken.helps and not taken.halves
    (found,) = about_take_up(taken, trim_mm=18.0)
    assert "40 mm long in all, 10 mm of it above; without blocks 60 and 10 mm" in found.words
    assert found.words.endswith(f"Of {len(taken.trials)} arrangements that were tried none halves them.")
    assert found.advice.startswith("A riser of 24 mm") and "24 mm, 10 mm of it above" in found.advice


def test_no_higher_riser_is_looked_at_where_blocks_halve_the_webs_or_there_are_none():
    for left in (lambda _riser, n: (12.0 if n else 30.0, 5.0), lambda _riser, _n: (0.0, 0.0)):
        asked = []
        assert as_sought(TakeUpSettings(), pretended_on(12.0, left, asked), flange=True).raised is None
        assert asked == [12.0]


def test_blocks_that_are_given_are_made_and_told_as_given():
    mesh = from_manifold(steep_box(60.0, 40.0, 20.0))
    made = bw.make(
        (mesh.vertices, mesh.faces),
        sculpt={"unit": "mm"},
        pull={"direction": "z"},
        forecast={"quality": "off"},
        take_up={"at_mm": ((34.0, 24.0, -4.0, 3.5), (0.0, -30.0, 2.0), (0.0, 30.0, -60.0))},
    )
    report = made.report["take_up"]
    assert report["given"] and report["web_length_mm"] is None
    foot = made.report["base"]["foot_z_mm"]
    assert [one["radius_mm"] for one in report["blocks"]] == [3.5, 4.0]
    assert report["at_mm"] == [pytest.approx([34.0, 24.0, -4.0, 3.5]), pytest.approx([0.0, -30.0, 2.0, 4.0])]
    tops = [one["at_mm"] for one in report["blocks"]]
    assert [top[2] for top in tops] == pytest.approx(
        [foot - 4.0, foot + 2.0], abs=0.05
    )  # larger by the shrinkage
    heights = Columns(made.results["blank"].mesh).top(np.array([top[:2] for top in tops]))[0]
    assert heights == pytest.approx([top[2] for top in tops], abs=1e-4)
    found = [one for one in made.report["findings"] if one["slug"] == "take-up-blocks"]
    assert sorted(one["severity"] for one in found) == ["note", "warn", "warn"]
    words = " ".join(one["words"] for one in found)
    assert "1 take-up block rises above the trim line" in words
    assert "1 take-up block lies no higher than the flange and is left out." in words
    assert made.report["buck"]["watertight"]
