import numpy as np

from buckwright.survey.pockets.sealed_regions import contact_order, sealed_places, stands_out_mm


def gaps_of(*steps):
    return np.array(steps, np.float32)


def places(gaps, vented, least=0.5, rough=None):
    rough = np.zeros(gaps.shape[1:]) if rough is None else rough
    return sealed_places(gaps, vented=vented, rough_mm=rough, least_depth_mm=least)


# One row: outside at the left, a sill, a near bay, a second sill, a far bay that stays open longest.
FIRST = [[5, 3, 5, 3, 6, 0]]
SECOND = [[2, 0, 4, 2, 5, 0]]
THIRD = [[1, 0, 2, 0, 4, 0]]
LAST = [[0, 0, 0, 0, 1, 0]]
ROW = gaps_of(FIRST, SECOND, THIRD, LAST)
LEFT = np.array([[True, False, False, False, False, False]])


def test_the_way_out_is_lost_one_sill_after_the_other():
    found, _ = places(ROW, LEFT)
    assert [(place.step, place.deepest) for place in found] == [(1, (0, 4)), (2, (0, 2))]
    assert found[0].columns.tolist() == [2, 3, 4]
    assert found[0].gap_mm.tolist() == [4, 2, 5]
    assert found[1].gap_mm.tolist() == [2]


def test_a_shallow_rest_is_no_place_of_its_own():
    found, _ = places(ROW, LEFT, least=2.5)
    assert [place.deepest for place in found] == [(0, 4)]


def test_a_vent_keeps_its_bay_open():
    vented = LEFT.copy()
    vented[0, 4] = True
    found, open_air = places(ROW, vented)
    assert [place.deepest for place in found] == [(0, 2)]
    assert open_air.tolist() == [[True, False, True, False, True, False]]
    assert places(ROW, open_air)[0] == []


def test_arguments_are_left_alone():
    before = LEFT.copy()
    places(ROW, LEFT)
    assert np.array_equal(before, LEFT)


def test_a_diagonal_rim_seals():
    gap = np.ones((1, 5, 5), np.float32)
    for i, j in ((0, 2), (1, 1), (1, 3), (2, 0), (2, 4), (3, 1), (3, 3), (4, 2)):
        gap[0, i, j] = 0.0
    corners = np.zeros((5, 5), bool)
    corners[[0, 0, -1, -1], [0, -1, 0, -1]] = True
    (place,), _ = places(gap, corners)
    assert place.deepest == (2, 2)
    assert len(place.rows) == 5


def test_the_middle_of_a_flat_floor_is_deepest():
    gap = np.zeros((1, 9, 9), np.float32)
    gap[0, 2:7, 1:8] = 3.0
    (place,), _ = places(gap, np.zeros((9, 9), bool))
    assert place.deepest == (4, 4)


def test_roughness_raises_the_least_depth():
    rough = np.full((1, 6), 4.0)
    assert [place.step for place in places(ROW, LEFT, rough=rough)[0]] == [1]
    assert places(ROW, LEFT, rough=rough * 2)[0] == []
    assert stands_out_mm(np.zeros(3), 0.4) == 0.4


def test_contact_order_counts_the_steps_off_the_relief():
    assert contact_order(ROW).tolist() == [[3, 1, 3, 2, 4, 0]]


def test_a_slit_counts_as_shut_while_it_passes_a_small_part_of_what_a_vent_does():
    """Plane Poiseuille flow w h^3 dp / (12 mu l) through 5 mm of rim 1 mm long, against a 1 mm hole.

    The hole passes 0.156 L/s of free air (derived: choked, without loss); air of 18 uPa s at 50 kPa.
    """
    heights = np.linspace(0.0, 0.1, 2001)
    open_ = contact_order(heights[None, None].astype(np.float32))[0] == 1
    shut = heights[~open_].max() * 1e-3
    litres = 5e-3 * shut**3 * 50e3 / (12 * 18e-6 * 1e-3) * 1e3
    assert np.array_equal(np.flatnonzero(open_), np.arange((~open_).sum(), len(heights)))
    assert 0.156 / 20 < litres < 0.156 / 14


def test_no_pixels():
    assert places(np.zeros((2, 0, 0), np.float32), np.zeros((0, 0), bool))[0] == []
