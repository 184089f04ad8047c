import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from buckwright.errors import InputError
from buckwright.forming.air.evacuation import (
    ATMOSPHERE_PA,
    CRITICAL_RATIO,
    GAS_CONSTANT,
    ROOM_K,
    drilled_discharge,
    evacuation_time_s,
)


def isentropic_kg_s(area_mm2, upstream, downstream):
    """Flow by the Mach number in the throat, in SI units; temperature and density there follow from it."""
    k = 1.4
    mach = min(math.sqrt(2 / (k - 1) * ((upstream / max(downstream, 1e-9)) ** ((k - 1) / k) - 1)), 1.0)
    heat = 1 + (k - 1) / 2 * mach**2
    density = upstream / (GAS_CONSTANT * ROOM_K) * heat ** (-1 / (k - 1))
    sound = math.sqrt(k * GAS_CONSTANT * ROOM_K / heat)
    return area_mm2 * 1e-6 * density * mach * sound


def elliptic_kg_s(area_mm2, upstream, downstream):
    """Flow in the form of ISO 6358-1:2013: choked, then a quarter of an ellipse over the pressure ratio."""
    beyond = max(downstream / upstream - CRITICAL_RATIO, 0.0) / (1.0 - CRITICAL_RATIO)
    return isentropic_kg_s(area_mm2, upstream, 0.0) * math.sqrt(1.0 - beyond**2)


def integrated_s(volume_mm3, area_mm2, start, target, plenum, *, flow=isentropic_kg_s):
    """The same tank marched in time with a flow function: an independent way to the same second."""

    def fall(_, p):
        return [-0.7 * flow(area_mm2, p[0], plenum) * GAS_CONSTANT * ROOM_K / (volume_mm3 * 1e-9)]

    def reached(_, p):
        return p[0] - target

    reached.terminal = True
    solution = solve_ivp(fall, (0, 60), [start], events=reached, rtol=1e-9, atol=1e-3)
    return solution.t_events[0][0]


LOADS = [
    (ATMOSPHERE_PA, 50e3, 20e3),  # choked all the way
    (ATMOSPHERE_PA, 25e3, 20e3),  # choked, then not
    (ATMOSPHERE_PA, 85e3, 80e3),  # never choked
    (60e3, 45e3, 40e3),
]


@pytest.mark.parametrize(("start", "target", "plenum"), LOADS)
def test_time_agrees_with_marching(start, target, plenum):
    closed = evacuation_time_s(1e5, 2.0, discharge=0.7, start_pa=start, target_pa=target, plenum_pa=plenum)
    assert closed == pytest.approx(integrated_s(1e5, 2.0, start, target, plenum), rel=1e-6)


@pytest.mark.parametrize(("start", "target", "plenum"), LOADS)
def test_time_stays_near_that_of_the_ellipse(start, target, plenum):
    closed = evacuation_time_s(1e5, 2.0, discharge=0.7, start_pa=start, target_pa=target, plenum_pa=plenum)
    ellipse = integrated_s(1e5, 2.0, start, target, plenum, flow=elliptic_kg_s)
    assert closed == pytest.approx(ellipse, rel=0.003)


def test_time_does_not_fall_once_choked():
    times = [float(evacuation_time_s(1e5, 1.0, target_pa=40e3, plenum_pa=p)) for p in (0.0, 10e3, 21e3)]
    assert times == pytest.approx(times[:1] * 3, rel=1e-12)
    assert evacuation_time_s(1e5, 1.0, target_pa=40e3, plenum_pa=25e3) > 1.001 * times[0]


def test_time_to_the_plenum_itself_is_finite():
    times = [
        float(evacuation_time_s(1e5, 1.0, target_pa=t, plenum_pa=20e3)) for t in (20.1e3, 20.001e3, 20e3)
    ]
    assert times[0] < times[1] < times[2] < 1.1 * times[0]


@given(
    volume=st.floats(1.0, 1e7),
    area=st.floats(1e-3, 1e3),
    factor=st.floats(1.01, 50),
    target=st.floats(0.2, 0.99),
)
def test_time_scales_with_volume_and_area(volume, area, factor, target):
    base = evacuation_time_s(volume, area, target_pa=target * ATMOSPHERE_PA)
    assert evacuation_time_s(
        volume * factor, area * factor, target_pa=target * ATMOSPHERE_PA
    ) == pytest.approx(base)
    assert evacuation_time_s(volume * factor, area, target_pa=target * ATMOSPHERE_PA) == pytest.approx(
        base * factor
    )


def test_arrays_and_empty_answers():
    times = evacuation_time_s(np.array([0.0, 100.0, 100.0]), np.array([0.0, 0.0, 1.0]))
    assert times[0] == 0.0
    assert np.isinf(times[1])
    assert 0.0 < times[2] < 1.0
    assert evacuation_time_s(np.zeros(0), 1.0).shape == (0,)
    assert evacuation_time_s(5.0, 1.0, target_pa=ATMOSPHERE_PA) == 0.0


def test_long_holes_pass_less():
    values = drilled_discharge(np.array([0.1, 2.0, 10.0, 30.0]), 1.0)
    assert values[0] == 0.61
    assert np.all(np.diff(values[1:]) < 0)
    assert values[1] == pytest.approx(0.8, abs=0.005)


def test_left_alone_a_hole_passes_what_one_two_to_four_diameters_long_does():
    usual = evacuation_time_s(1e5, 1.0, discharge=1.0) / evacuation_time_s(1e5, 1.0)
    longer, shorter = drilled_discharge(np.array([4.0, 2.0]), 1.0)
    assert longer <= usual <= shorter + 0.001


@pytest.mark.parametrize(
    "bad",
    [
        lambda: evacuation_time_s(-1.0, 1.0),
        lambda: evacuation_time_s(1.0, -1.0),
        lambda: evacuation_time_s(1.0, 1.0, discharge=0.0),
        lambda: evacuation_time_s(1.0, 1.0, target_pa=10e3, plenum_pa=20e3),
        lambda: evacuation_time_s(1.0, 1.0, target_pa=2e5),
        lambda: evacuation_time_s(1.0, 1.0, target_pa=0.0, plenum_pa=0.0),
        lambda: drilled_discharge(1.0, 0.0),
    ],
)
def test_nonsense_is_refused(bad):
    with pytest.raises(InputError):
        bad()
