"""The print under pressure and heat, against handbook tables and closed forms."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import erf

from buckwright.forming.heating.sheet_heating import contact_c
from buckwright.forming.heating.slab import Face, Layer
from buckwright.printing.materials import PRINT_MATERIALS
from buckwright.printing.settings import PrintSettings
from buckwright.printing.strength.findings import about_strength
from buckwright.printing.strength.heat import MOST_PULLS, Contact, pull_again, skin_layer
from buckwright.printing.strength.judging import crushing_mpa, judge_print
from buckwright.printing.strength.plates import (
    clamped_disc,
    clamped_rectangle,
    least_thickness_mm,
    supported_disc,
    supported_rectangle,
    widest_panel_mm,
)
from buckwright.printing.strength.settings import ATMOSPHERE_MPA, StrengthSettings

ROOM = Face(transfer_w_m2k=10.0, air_c=20.0, emissivity=0.9, walls_c=20.0)


def test_boresi_13_3_clamped_disc():
    # Boresi & Schmidt, Advanced Mechanics of Materials, example 13.3: D 200, h 10 mm, E 200 GPa, nu 0.29,
    # Y 315 MPa; printed p_y = 4.20 MPa and w = 0.36 mm at that pressure
    edge, _, bend = clamped_disc(4.20, 100.0, 10.0, 200_000.0, 0.29)
    assert edge == pytest.approx(315.0, rel=1e-4)
    assert bend == pytest.approx(0.36064, rel=1e-4)


def test_chen_clamped_disc():
    # Chen, Civil Engineering Handbook, 2nd ed., eq. 47.72: w = q a^4 / 64 D
    rigidity = 2500.0 * 4.0**3 / (12.0 * (1.0 - 0.35**2))
    assert clamped_disc(0.1, 50.0, 4.0, 2500.0)[2] == pytest.approx(0.1 * 50.0**4 / (64.0 * rigidity))


def test_boresi_13_2_panel_within_what_methods_differ():
    # Boresi ex. 13.2: 1.2 x 0.9 m, 29.4 kPa, h 6.79 mm, printed w = 6.86 mm; Roark's coefficient gives 6.57.
    # Published methods differ by 4 %; this one is Roark's. E of steel there: 200 GPa.
    _, bend = clamped_rectangle(0.0294, 1200.0, 900.0, 6.79, 200_000.0)
    assert bend == pytest.approx(6.57, rel=0.01)
    assert bend == pytest.approx(6.86, rel=0.05)


@pytest.mark.parametrize(
    ("ratio", "stress", "bend"),
    [
        (1.0, 0.3078, 0.0138),
        (1.2, 0.3834, 0.0188),
        (1.4, 0.4356, 0.0226),
        (1.6, 0.4680, 0.0251),
        (1.8, 0.4872, 0.0267),
        (2.0, 0.4974, 0.0277),
        (1e7, 0.5000, 0.0284),
    ],
)
def test_roark_8a_rows(ratio, stress, bend):
    # Roark's Formulas for Stress and Strain, table 11.4, case 8a: sigma = beta q b^2/t^2,
    # w = alpha q b^4/E t^3
    made = clamped_rectangle(1.0, ratio * 10.0, 10.0, 1.0, 1000.0)
    assert made == pytest.approx((stress * 100.0, bend * 1e4 / 1000.0), rel=1e-6)


@pytest.mark.parametrize(
    ("ratio", "stress", "bend"),
    [
        (1.0, 0.2874, 0.0444),
        (1.2, 0.3762, 0.0616),
        (1.4, 0.4530, 0.0770),
        (1.6, 0.5172, 0.0906),
        (1.8, 0.5688, 0.1017),
        (2.0, 0.6102, 0.1110),
        (3.0, 0.7134, 0.1335),
        (4.0, 0.7410, 0.1400),
        (5.0, 0.7476, 0.1417),
        (1e7, 0.7500, 0.1421),
    ],
)
def test_roark_1a_rows(ratio, stress, bend):
    # Roark, table 11.4, case 1a, all edges simply supported
    made = supported_rectangle(1.0, 10.0, ratio * 10.0, 1.0, 1000.0)
    assert made == pytest.approx((stress * 100.0, bend * 1e4 / 1000.0), rel=1e-6)


def test_timoshenko_agrees_with_the_square():
    # Timoshenko & Woinowsky-Krieger: clamped square, w = 0.00126 q a^4 / D, moment 0.0513 q a^2
    stress, bend = clamped_rectangle(1.0, 10.0, 10.0, 1.0, 1000.0)
    rigidity = 1000.0 / (12.0 * (1.0 - 0.3**2))
    assert bend == pytest.approx(0.00126 * 1e4 / rigidity, rel=0.01)
    assert stress == pytest.approx(6.0 * 0.0513 * 100.0, rel=0.002)


@pytest.mark.parametrize(
    ("radius", "thickness", "modulus", "bend", "edge", "centre"),
    [
        (50, 4, 2500, 0.6512, 11.874, 8.015),
        (50, 6, 2500, 0.1930, 5.277, None),
        (75, 5, 2000, 2.1099, 17.099, None),
    ],
)
def test_worked_discs_of_a_printed_buck(radius, thickness, modulus, bend, edge, centre):
    # derived twice for q = 0.101325 MPa, nu = 0.35
    made = clamped_disc(0.101325, radius, thickness, modulus)
    assert made[0] == pytest.approx(edge, rel=1e-4)
    assert made[2] == pytest.approx(bend, rel=5e-4)
    if centre is not None:
        assert made[1] == pytest.approx(centre, rel=1e-4)
        assert supported_disc(0.101325, radius, thickness, modulus) == pytest.approx(
            (19.889, 2.581), rel=2e-4
        )


def test_worked_rectangles_of_a_printed_buck():
    assert clamped_rectangle(0.101325, 100, 100, 5, 2500) == pytest.approx((12.475, 0.4475), rel=1e-3)
    assert clamped_rectangle(0.101325, 200, 100, 6, 2500) == pytest.approx((14.000, 0.5198), rel=1e-3)


@given(
    thickness=st.floats(0.5, 8.0),
    allowed=st.floats(2.0, 20.0),
    modulus=st.floats(500.0, 3500.0),
    bend=st.floats(0.01, 0.5),
)
def test_least_skin_and_widest_panel_are_inverse(thickness, allowed, modulus, bend):
    panel = widest_panel_mm(ATMOSPHERE_MPA, thickness, allowed, modulus, bend)
    again = least_thickness_mm(ATMOSPHERE_MPA, panel, allowed, modulus, bend)
    assert again == pytest.approx(thickness, rel=1e-9)
    stress, bent = clamped_rectangle(ATMOSPHERE_MPA, panel, panel, thickness, modulus)
    assert stress <= allowed * (1 + 1e-9) and bent <= bend * (1 + 1e-9)
    assert stress == pytest.approx(allowed) or bent == pytest.approx(bend)


def sheet(thickness_mm=1.0):
    """Polystyrene, from memory."""
    return Layer(thickness_m=1e-3 * thickness_mm, conductivity_w_mk=0.15, heat_j_m3k=1050 * 1900)


def contact(thickness_mm=1.0, sheet_c=150.0, hold_s=10.0, rest_s=90.0):
    return Contact(sheet=sheet(thickness_mm), sheet_c=sheet_c, hold_s=hold_s, rest_s=rest_s, room=ROOM)


def test_two_thick_bodies_follow_the_closed_form():
    # Incropera, section 5.7: two semi-infinite solids; the face jumps to the mean by effusivity and stays,
    # and below it T = Ts + (T2 - Ts) erf(x / 2 sqrt(alpha t)).
    pla = PRINT_MATERIALS["PLA"]
    fine = replace(sheet(6.0), nodes=81, growth=0.93)
    thick = Contact(sheet=fine, sheet_c=150.0, hold_s=4.0, rest_s=0.0, room=Face())
    made = pull_again(thick, pla, shell_mm=5.0, infill_share=1.0, start_c=25.0, pulls=1)
    face = contact_c(thick.sheet, 150.0, skin_layer(pla, 5.0), 25.0)
    assert made.contact_c == face
    diffusivity = pla.conductivity_w_mk / (1e3 * pla.density_kg_m3 * pla.heat_kj_kgk)
    depth = made.softened_mm[0] * 1e-3
    there = face + (25.0 - face) * erf(depth / (2.0 * math.sqrt(diffusivity * 4.0)))
    assert there == pytest.approx(pla.softens_c[0], abs=0.6)
    assert made.soft_s == pytest.approx(4.0)
    # Incropera, eq. 5.61 over time: Q = 2 k (Ts - Ti) sqrt(t / pi alpha); the first node starts hot
    heat = 2.0 * pla.conductivity_w_mk * (face - 25.0) * math.sqrt(4.0 / (math.pi * diffusivity))
    assert 1e3 * made.heat_kj_m2 == pytest.approx(heat, rel=0.03)


def test_contact_of_equal_bodies_is_the_mean():
    pla = PRINT_MATERIALS["PLA"]
    same = Layer(
        thickness_m=1e-3,
        conductivity_w_mk=pla.conductivity_w_mk,
        heat_j_m3k=1e3 * pla.density_kg_m3 * pla.heat_kj_kgk,
    )
    assert contact_c(same, 150.0, skin_layer(pla, 2.0), 30.0) == pytest.approx(90.0)


def pulls(material="PLA", start_c=25.0, shell_mm=2.0, **more):
    return pull_again(
        contact(**more), PRINT_MATERIALS[material], shell_mm=shell_mm, infill_share=0.3, start_c=start_c
    )


def test_more_heat_softens_more():
    plain = pulls()
    assert pulls(thickness_mm=1.5).softened_mm[0] > plain.softened_mm[0]
    assert pulls(start_c=45.0).softened_mm[0] > plain.softened_mm[0]
    assert pulls(hold_s=20.0).softened_mm[0] > plain.softened_mm[0]
    assert pulls(rest_s=900.0).softened_mm[1] < plain.softened_mm[1]
    assert pulls("ABS").softened_mm[0] < pulls("PETG").softened_mm[0] < plain.softened_mm[0]


def test_the_buck_warms_from_pull_to_pull():
    made = pulls(thickness_mm=0.5, hold_s=3.0)
    assert made.endless and made.lasts == MOST_PULLS
    assert list(made.face_c) == sorted(made.face_c)
    assert list(made.softened_mm) == sorted(made.softened_mm)


def test_a_long_rest_makes_every_pull_the_first():
    made = pulls(thickness_mm=0.5, hold_s=3.0, rest_s=7200.0, start_c=20.0)
    assert made.softened_mm[-1] == pytest.approx(made.softened_mm[0], abs=0.03)


@pytest.mark.parametrize("material", ["PLA", "PETG"])
def test_where_it_gives_way_half_the_skin_is_soft(material):
    made = pulls(material, thickness_mm=2.0, hold_s=30.0)
    assert made.lasts < MOST_PULLS
    assert len(made.softened_mm) == made.lasts + 1
    assert made.softened_mm[-1] > 1.0 and all(depth <= 1.0 for depth in made.softened_mm[:-1])


def judged(contact_=None, **printed):
    return judge_print(
        PrintSettings(**printed),
        StrengthSettings(),
        footprint_mm2=60_000.0,
        standing_mm2=45_000.0,
        contact=contact_,
        buck_c=25.0,
    )


def test_the_atmosphere_on_a_platen():
    # 300 x 200 mm at one atmosphere: 6079.5 N
    assert judged().force_n == pytest.approx(6079.5)
    assert judged().standing_mpa == pytest.approx(6079.5 / 45_000.0)


def test_usual_prints_hold_and_sparse_ones_do_not():
    usual = judged()
    assert usual.skin_holds and usual.infill_holds
    assert usual.panel_mm == pytest.approx(3.0)
    sparse = judged(infill_share=0.05)
    assert not sparse.infill_holds
    thin = judged(infill_share=0.05, shell_mm=0.6)
    assert not thin.skin_holds and thin.least_shell_mm > 0.6


def test_infill_is_as_strong_as_the_plastic_when_full():
    pla = PRINT_MATERIALS["PLA"]
    assert crushing_mpa(pla, 1.0) == pytest.approx(pla.strength_mpa[0])
    rising = [crushing_mpa(pla, float(share)) for share in np.linspace(0.05, 1.0, 40)]
    assert rising == sorted(rising)


def test_every_material_gets_its_verdict():
    verdicts = judged(contact(thickness_mm=2.0, hold_s=30.0)).verdicts
    assert set(verdicts) == set(PRINT_MATERIALS)
    assert set(verdicts) >= {"PLA", "PETG", "ABS", "ASA", "PC", "PP", "PA12", "resin", "hot_resin"}
    assert verdicts["PLA"].heat == "gives way" and not verdicts["PLA"].survives
    assert verdicts["hot_resin"].heat == "stays hard" and verdicts["hot_resin"].survives
    unheated = judged()
    assert unheated.cold is None and {one.heat for one in unheated.verdicts.values()} == {None}


def test_a_verdict_counts_the_pressure_as_well():
    """Weaker plastics need a thicker skin; under too little infill none survives, whatever the heat does."""
    verdicts = judged(contact(), infill_share=0.08, shell_mm=0.8).verdicts
    for name, one in verdicts.items():
        mine = judged(material=name, infill_share=0.08, shell_mm=0.8)
        assert (one.skin_holds, one.infill_holds) == (mine.skin_holds, mine.infill_holds)
        assert one.least_shell_mm == pytest.approx(mine.least_shell_mm)
        assert one.survives == (one.skin_holds and one.infill_holds and one.heat != "gives way")
    assert verdicts["PP"].least_shell_mm > verdicts["PLA"].least_shell_mm
    assert not any(one.survives for one in judged(contact(), infill_share=0.05).verdicts.values())


def test_ribs_that_stand_too_far_apart_are_told_as_ribs():
    made = judge_print(
        PrintSettings(),
        StrengthSettings(),
        footprint_mm2=1e4,
        standing_mm2=1e3,
        contact=None,
        buck_c=25.0,
        hollow=(80.0, 3.0),
    )
    (found,) = about_strength(made, StrengthSettings())
    assert (
        found.setting == "hollow.spacing_mm" and "The wall of 3 mm bends in between ribs 80 mm" in found.words
    )
    assert made.widest_panel_mm < 80.0 and made.least_shell_mm > 3.0
