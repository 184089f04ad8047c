import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, OpType
from pytest import approx
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist

from buckwright.errors import JobError
from buckwright.shape.underside.channels import (
    channel_outline,
    channel_tools,
    connected,
    plan_channels,
)


def clover(size=40.0):
    angle = np.linspace(0, 2 * np.pi, 300, False)
    radius = size * (1 + 0.25 * np.sin(3 * angle))
    return CrossSection([np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])])


def apart(plan, point):
    ends = plan.nodes[plan.links]
    along = ends[:, 1] - ends[:, 0]
    share = np.clip(((point - ends[:, 0]) * along).sum(1) / (along**2).sum(1), 0, 1)
    return np.linalg.norm(ends[:, 0] + share[:, None] * along - point, axis=1).min()


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 9999), st.integers(1, 40))
def test_every_vent_reaches_the_edge_and_no_groove_touches_a_fixing(seed, count):
    rng = np.random.default_rng(seed)
    fixings = np.array([[-14.0, 3.0, 1.5], [15.0, 2.0, 1.5], [0.0, -12.0, 4.0]])
    spots = rng.uniform(-26, 26, (count, 2))
    gaps = np.linalg.norm(spots[:, None] - fixings[:, :2], axis=-1) - fixings[:, 2]
    spots = spots[gaps.min(1) > 4.0]
    plan = plan_channels(spots, clover(), keep_out=fixings)
    assert connected(plan).all()
    assert plan.notes == ()
    for x, y, radius in fixings:
        if len(plan.links):
            assert apart(plan, [x, y]) >= radius + 1.6 + 2.0 - 1e-6
    holes = CrossSection.batch_boolean(
        [CrossSection.circle(r, 60).translate((x, y)) for x, y, r in fixings], OpType.Add
    )
    assert (channel_outline(plan) ^ holes).area() == 0


def test_one_vent_takes_the_straight_way_out():
    plan = plan_channels([[12.0, 0.0]], CrossSection.square((40, 60), True))
    assert len(plan.links) == 1
    assert plan.nodes[1] == approx([25.0, 0.0])
    assert plan.length_mm == approx(13.0)


def test_three_in_a_row_share_one_groove():
    spots = np.array([[0.0, 0.0], [6.0, 0.0], [12.0, 0.0]])
    plan = plan_channels(spots, CrossSection.square((40, 400), True))
    assert plan.length_mm == approx(12 + 8 + 5)


def test_the_tree_is_no_longer_than_the_minimum_spanning_tree():
    spots = np.random.default_rng(5).uniform(-25, 25, (60, 2))
    plan = plan_channels(spots, CrossSection.square((80, 80), True))
    edge = 40 - np.abs(spots).max(1)
    full = np.zeros((61, 61))
    full[:60, :60] = cdist(spots, spots)
    full[:60, 60] = edge
    inside = plan.length_mm - 5.0 * plan.exits.sum()
    assert inside <= minimum_spanning_tree(full).sum() * 1.0001


def test_a_keep_out_in_the_way_is_walked_round():
    wall = np.array([[0.0, 0.0, 9.0]])
    plan = plan_channels([[-14.0, 0.0], [14.0, 0.0]], CrossSection.square((200, 200), True), keep_out=wall)
    assert connected(plan).all()
    assert apart(plan, [0.0, 0.0]) >= 9 + 3.6 - 1e-6


def test_a_walled_in_vent_is_told():
    ring = [[9 * np.cos(a), 9 * np.sin(a), 3.0] for a in np.linspace(0, 2 * np.pi, 12, False)]
    plan = plan_channels([[0.0, 0.0], [30.0, 0.0]], CrossSection.square((80, 80), True), keep_out=ring)
    assert connected(plan).tolist() == [False, True]
    assert "1 vent cannot be reached" in plan.notes[0]


def test_platen_holes_are_exits_too():
    hole = np.array([[3.0, 0.0], [500.0, 0.0]])
    plan = plan_channels([[0.0, 0.0]], CrossSection.square((200, 200), True), platen_holes=hole)
    assert connected(plan).all()
    assert plan.length_mm == approx(3.0)


def test_grooves_cut_the_edge_and_have_their_depth():
    square = CrossSection.square((60, 60), True)
    plan = plan_channels([[10.0, 0.0], [-10.0, 3.0]], square, bores_mm=np.array([4.0, 4.0]))
    (tool,) = channel_tools(plan)
    block = square.extrude(10)
    cut = block - tool
    assert len(cut.decompose()) == 1
    assert cut.genus() == 0
    inside = (channel_outline(plan) ^ square).area()
    assert block.volume() - cut.volume() == approx(2.5 * inside, rel=1e-9)
    assert (channel_outline(plan) - square).area() > 10, "the way out reaches beyond the edge"


@pytest.mark.parametrize("bore", [3.0, 6.0])
def test_a_groove_is_wider_than_the_bore_that_opens_into_it(bore):
    """By 0.3 mm all round, so that their walls do not touch."""
    plan = plan_channels([[0.0, 0.0]], CrossSection.square((60, 60), True), bores_mm=np.array([bore]))
    assert plan.collars_mm == approx([bore + 0.6])
    outline = channel_outline(plan)
    assert (CrossSection.circle(bore / 2 + 0.25, 96) - outline).area() == 0


def test_nothing_to_join():
    plan = plan_channels(np.zeros((0, 2)), clover())
    assert channel_tools(plan) == []
    assert plan.to_dict()["joined_vents"] == 0


def test_the_same_vents_give_the_same_grooves():
    spots = np.random.default_rng(2).uniform(-20, 20, (30, 2))
    first, second = plan_channels(spots, clover()), plan_channels(spots, clover())
    assert np.array_equal(first.nodes, second.nodes)
    assert np.array_equal(first.links, second.links)


@pytest.mark.parametrize("bad", [{"width_mm": 0.0}, {"depth_mm": float("nan")}, {"wall_mm": -1.0}])
def test_bad_sizes_are_refused(bad):
    with pytest.raises(JobError):
        plan_channels([[0.0, 0.0]], clover(), **bad)
