import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from buckwright.errors import InputError
from buckwright.forming.forecast.membrane import (
    Law,
    forces,
    laws,
    reference,
    spoilt,
    stiffness,
    stretches,
)

LAWS = [Law(), Law(0.1), Law(0.5)]
TRIANGLES = np.array([[0, 1, 2], [1, 3, 2]], np.int32)


def patch(seed=0, stretch=1.4):
    rng = np.random.default_rng(seed)
    flat = np.array([[0, 0], [1.1, 0.1], [0.2, 0.9], [1.2, 1.3]])
    x = np.column_stack([flat * [stretch, 1.2], np.zeros(4)]) + 0.1 * rng.normal(size=(4, 3))
    return flat, x


def energy(flat, x, law):
    """By the invariants of each triangle: an independent road to the forces."""
    total = 0.0
    for i, j, k in TRIANGLES:
        D = np.stack([flat[j] - flat[i], flat[k] - flat[i]], axis=1)
        F = np.stack([x[j] - x[i], x[k] - x[i]], axis=1) @ np.linalg.inv(D)
        C = F.T @ F
        det = np.linalg.det(C)
        first, second = np.trace(C) + 1 / det, det + np.trace(C) / det
        total += 0.5 * np.linalg.det(D) * 0.5 * ((1 - law.share) * (first - 3) + law.share * (second - 3))
    return total


@pytest.mark.parametrize("law", LAWS)
def test_forces_are_the_slope_of_the_energy(law):
    flat, x = patch()
    found = forces(x, reference(flat, TRIANGLES), law, np.ones(2, bool))[0]
    e = 1e-6
    for n in range(4):
        for axis in range(3):
            step = np.zeros_like(x)
            step[n, axis] = e
            slope = (energy(flat, x + step, law) - energy(flat, x - step, law)) / (2 * e)
            assert found[n, axis] == pytest.approx(-slope, abs=1e-8)


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("stretch", [1.2, 2.0, 4.0])
def test_a_wrinkled_sheet_pulls_like_a_strip(law, stretch):
    # uniaxial stress of an incompressible Mooney-Rivlin strip: (k1 + k2 / s)(s - 1 / s^2), from its energy
    flat = np.array([[0, 0], [1.0, 0], [0, 1.0], [1.0, 1.0]])
    x = np.column_stack([flat * [stretch, 0.3 / np.sqrt(stretch)], np.zeros(4)])
    found = forces(x, reference(flat, TRIANGLES), law, np.ones(2, bool))[0]
    nominal = (1 - law.share + law.share / stretch) * (stretch - stretch**-2)
    assert found[[0, 2], 0].sum() == pytest.approx(nominal, rel=1e-12)
    # across it keeps a fifth of the neo-Hookean stiffness, whose nominal stress is w - 1 / (s^2 w^3)
    width = 0.3 / np.sqrt(stretch)
    assert found[[0, 1], 1].sum() == pytest.approx(0.2 * (width - stretch**-2 * width**-3), rel=1e-9)


def test_a_slack_sheet_pushes_with_a_fifth_of_its_stiffness():
    flat = np.array([[0, 0], [1.0, 0], [0, 1.0], [1.0, 1.0]])
    x = np.column_stack([0.9 * flat, np.zeros(4)])
    found = forces(x, reference(flat, TRIANGLES), Law(), np.ones(2, bool))[0]
    assert found[[0, 2], 0].sum() == pytest.approx(0.2 * (0.9 - 0.9**-5), rel=1e-9)


@pytest.mark.parametrize("law", LAWS)
def test_turning_the_sheet_turns_its_forces(law):
    flat, x = patch(3)
    turn = Rotation.from_rotvec([0.1, -0.2, 0.9]).as_matrix()
    ref = reference(flat, TRIANGLES)
    here, there = (forces(p, ref, law, np.ones(2, bool)) for p in (x, x @ turn.T + [5.0, 6.0, 7.0]))
    np.testing.assert_allclose(there, here @ turn.T, atol=1e-12)


def test_pressure_is_area_times_normal_and_ends_under_faces_that_look_down():
    flat, _ = patch()
    x = np.column_stack([flat, np.zeros(4)])
    ref = reference(flat, TRIANGLES)
    push = forces(x, ref, Law(), np.ones(2, bool))[1]
    assert push.sum(0) == pytest.approx([0, 0, -ref.area_mm2.sum()])
    below = forces(x * [-1, 1, 1], ref, Law(), np.ones(2, bool))[1]
    assert not below.any()
    some = forces(x, ref, Law(), np.array([True, False]))[1]
    assert some.sum(0) == pytest.approx([0, 0, -ref.area_mm2[0]])


def test_the_reference_keeps_the_volume_of_the_flat_sheet():
    _, x = patch()
    ref = reference(x, TRIANGLES, flat_area_mm2=1.7)
    assert (ref.area_mm2 * ref.weight).sum() == pytest.approx(1.7)
    np.testing.assert_allclose(stretches(x, ref), 1.0, atol=1e-9)
    np.testing.assert_allclose(stretches(2.0 * x, ref), 2.0, atol=1e-9)


@pytest.mark.parametrize("law", LAWS)
def test_the_stand_in_stiffness_bounds_the_true_one_in_plan(law):
    flat, x = patch(5, 2.0)
    ref = reference(flat, TRIANGLES)
    level, upright = stiffness(x, ref, law)
    assert (level > 0).all() and (upright > 0).all()
    # within the plane of a flat stretched sheet, the curvature of the energy along any movement
    x = np.column_stack([flat * [1.8, 1.3], np.zeros(4)])
    level, _ = stiffness(x, ref, law)
    grads = ref.inverse.reshape(-1, 2, 2)
    rng = np.random.default_rng(1)
    for _ in range(50):
        v = np.column_stack([rng.normal(size=(4, 2)), np.zeros(4)])
        e = 1e-4
        true = (energy(flat, x + e * v, law) - 2 * energy(flat, x, law) + energy(flat, x - e * v, law)) / e**2
        # the stand-in lacks the null form det(grad v), whose integral over inner movements vanishes
        bound, null = 0.0, 0.0
        for t, (i, j, k) in enumerate(TRIANGLES):
            G = np.stack([v[j] - v[i], v[k] - v[i]], axis=1)[:2] @ grads[t]
            bound += level[t] * ref.area_mm2[t] * (G * G).sum()
            null += ref.area_mm2[t] * abs(np.linalg.det(G))
        assert true <= bound + 4.0 * null + 1e-6


def test_triangles_that_look_down_are_found():
    flat, _ = patch()
    x = np.column_stack([flat, np.zeros(4)])
    x[3, :2] = [0.1, 0.2]  # the far corner folded back over the near triangle
    ref = reference(flat, TRIANGLES)
    turned, thin = spoilt(x, ref, np.ones(4, bool), least=-0.5, most=25.0)
    assert turned.tolist() == [1] and not len(thin)
    assert not len(spoilt(x, ref, np.zeros(4, bool), least=-0.5, most=25.0)[0])


def test_triangles_that_are_drawn_too_far_are_found():
    flat, _ = patch()
    x = np.column_stack([flat, np.zeros(4)])
    ref = reference(flat, TRIANGLES)
    x[:, 2] = 5.0 * flat[:, 0]  # sqrt(26) times the area
    every = np.ones(4, bool)
    assert spoilt(x, ref, every, least=-0.5, most=5.0)[1].tolist() == [0, 1]
    assert not len(spoilt(x, ref, every, least=-0.5, most=5.2)[1])
    assert not len(spoilt(x, ref, ~every, least=-0.5, most=5.0)[1])


def test_laws():
    assert {name: law.name for name, law in laws().items()} == {name: name for name in laws()}
    with pytest.raises(InputError, match="share"):
        Law(0.7)
