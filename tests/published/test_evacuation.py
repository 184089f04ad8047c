"""Orifice flow and evacuation against textbook examples and derived tables; sources beside each."""

import math

import pytest

from buckwright.forming.air.evacuation import (
    ATMOSPHERE_PA,
    CRITICAL_RATIO,
    GAS_CONSTANT,
    evacuation_time_s,
)


def orifice_flow_kg_s(area_mm2, *, discharge, upstream_pa, downstream_pa, temperature_k=293.15):
    """Mass flow as the time tells it in which a cubic metre loses a ten-millionth of its pressure."""
    fall_pa = 1e-7 * upstream_pa
    seconds = evacuation_time_s(
        1e9,
        area_mm2,
        discharge=discharge,
        start_pa=upstream_pa,
        target_pa=upstream_pa - fall_pa,
        plenum_pa=downstream_pa,
        temperature_k=temperature_k,
    )
    return fall_pa / (GAS_CONSTANT * temperature_k * float(seconds))


@pytest.mark.parametrize(
    ("area_mm2", "upstream", "temperature", "downstream", "published", "tolerance"),
    [
        # Munson, Young & Okiishi, Fundamentals of Fluid Mechanics, Ex. 11.5: the atmosphere through 1e-4 m2.
        # Printed with three-figure ratios: 1 %.
        (100.0, 101e3, 288.0, 80e3, 0.0201, 0.01),
        (100.0, 101e3, 288.0, 40e3, 0.0242, 0.01),
        # Fox & McDonald, ch. 12: 0.001 m2, 1000 kPa, 333 K, back pressure 591 kPa.
        (1000.0, 1000e3, 333.0, 591e3, 2.20, 0.005),
    ],
)
def test_textbook_flows(area_mm2, upstream, temperature, downstream, published, tolerance):
    flow = orifice_flow_kg_s(
        area_mm2, discharge=1.0, upstream_pa=upstream, downstream_pa=downstream, temperature_k=temperature
    )
    assert flow == pytest.approx(published, rel=tolerance)


def test_tank_losing_density():
    # Fox & McDonald, Ex. 4.3: 0.05 m3 at 800 kPa, 15 C, 65 mm2: printed -2.48 kg/m3s.
    flow = orifice_flow_kg_s(
        65.0, discharge=1.0, upstream_pa=800e3, downstream_pa=101e3, temperature_k=288.15
    )
    assert -flow / 0.05 == pytest.approx(-2.48, rel=0.003)


@pytest.mark.parametrize(("back", "published"), [(0.7e6, 6.77), (0.4e6, 7.11)])
def test_nozzle_with_approach_speed(back, published):
    # Cengel & Cimbala, Ex. 12-4: 150 m/s, 873 K, 1 MPa, 50 cm2; stagnation state by cp = 1005 J/kgK.
    stagnation_k = 873.0 + 150.0**2 / (2 * 1005.0)
    stagnation_pa = 1e6 * (stagnation_k / 873.0) ** 3.5
    flow = orifice_flow_kg_s(
        5000.0, discharge=1.0, upstream_pa=stagnation_pa, downstream_pa=back, temperature_k=stagnation_k
    )
    assert flow == pytest.approx(published, rel=0.003)


def test_critical_ratio_and_constant():
    # Derived: k = 1.4, R = 287.05 J/kgK.
    assert pytest.approx(0.528282, abs=1e-6) == CRITICAL_RATIO
    unit = orifice_flow_kg_s(1e6, discharge=1.0, upstream_pa=1.0, downstream_pa=0.0, temperature_k=1.0)
    assert unit == pytest.approx(0.0404149, abs=5e-8)


@pytest.mark.parametrize(
    ("diameter", "ideal", "at_08", "at_061"),
    # Derived: grams per second from the atmosphere at 293.15 K, choked.
    [
        (0.5, 0.04696, 0.03757, 0.02865),
        (0.8, 0.12022, 0.09618, 0.07334),
        (1.0, 0.18785, 0.15028, 0.11459),
        (1.5, 0.42265, 0.33812, 0.25782),
    ],
)
def test_grams_through_one_hole(diameter, ideal, at_08, at_061):
    for discharge, expected in ((1.0, ideal), (0.8, at_08), (0.61, at_061)):
        flow = orifice_flow_kg_s(
            math.pi / 4 * diameter**2, discharge=discharge, upstream_pa=ATMOSPHERE_PA, downstream_pa=20e3
        )
        assert flow * 1e3 == pytest.approx(expected, abs=6e-6)


@pytest.mark.parametrize(
    ("diameter", "litres"), [(0.5, 0.03900), (0.8, 0.09984), (1.0, 0.15600), (1.5, 0.35101)]
)
def test_litres_of_free_air_through_one_hole(diameter, litres):
    # Derived: the choked flow at inlet density.
    flow = orifice_flow_kg_s(
        math.pi / 4 * diameter**2, discharge=1.0, upstream_pa=ATMOSPHERE_PA, downstream_pa=0.0
    )
    density = ATMOSPHERE_PA / (287.05 * 293.15)
    assert flow / density * 1e3 == pytest.approx(litres, abs=6e-6)


@pytest.mark.parametrize(("diameter", "conductance"), [(0.5, 0.03911), (1.0, 0.15645), (2.0, 0.62579)])
def test_sonic_conductance(diameter, conductance):
    # Derived, in L/(s bar), for the form of ISO 6358-1:2013 with 1.185 kg/m3.
    area = math.pi / 4 * diameter**2
    flow = orifice_flow_kg_s(area, discharge=1.0, upstream_pa=ATMOSPHERE_PA, downstream_pa=0.0)
    assert flow / (ATMOSPHERE_PA * 1.185) * 1e8 == pytest.approx(conductance, abs=6e-6)


@pytest.mark.parametrize(
    ("area", "to_50", "to_20", "to_10"),
    # Derived: one litre, ideal holes, perfect vacuum, isothermal; 10 x 1.0 mm, then 20 x 0.8 mm.
    [(10 * math.pi / 4, 0.4443, 1.0317, 1.4760), (20 * math.pi / 4 * 0.64, 0.3471, 0.8060, 1.1531)],
)
def test_evacuation_into_a_good_vacuum(area, to_50, to_20, to_10):
    for share, expected in ((0.5, to_50), (0.2, to_20), (0.1, to_10)):
        time = evacuation_time_s(1e6, area, discharge=1.0, target_pa=share * ATMOSPHERE_PA, plenum_pa=0.0)
        assert time == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize(
    ("target", "expected"), [(50e3, 0.4528), (38e3, 0.6287), (25e3, 0.9125), (21e3, 1.0849)]
)
def test_evacuation_into_a_plenum(target, expected):
    # Derived by an isothermal ODE: one litre, 10 ideal holes of 1.0 mm, plenum 20 kPa.
    time = evacuation_time_s(1e6, 10 * math.pi / 4, discharge=1.0, target_pa=target, plenum_pa=20e3)
    assert time == pytest.approx(expected, abs=1e-4)


def test_left_alone_the_plenum_is_25_inches_of_mercury_below_the_atmosphere():
    # 25 inHg: what the pump of a forming machine holds (Machine Design, scenic panels); 3386.39 Pa an inch.
    plenum = 101_325.0 - 25 * 3386.39
    named = evacuation_time_s(1e6, 10.0, target_pa=0.2 * 101_325.0, plenum_pa=plenum)
    assert evacuation_time_s(1e6, 10.0) == pytest.approx(named, rel=1e-4)


@pytest.mark.parametrize(("diameter", "count"), [(1.0, 52), (0.8, 81)])
def test_holes_for_two_litres(diameter, count):
    # Derived: 2 L to 20 % in 0.5 s at Cd 0.8 needs 40.51 mm2.
    def seconds(holes):
        area = holes * math.pi / 4 * diameter**2
        return evacuation_time_s(2e6, area, discharge=0.8, plenum_pa=0.0)

    assert seconds(count) <= 0.5 < seconds(count - 1)
