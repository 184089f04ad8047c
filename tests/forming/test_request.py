"""What a forecast is asked for: pressure and radius by arithmetic, and what is refused."""

import pytest

from buckwright.errors import InputError
from buckwright.forming.forecast.request import (
    RADIUS_PULL,
    check_model,
    check_settings,
    law_of,
    pressure_per_mm,
    vents_of,
)


def test_a_sheet_is_pressed_into_a_fillet_by_the_pull_of_one_stretched_twofold():
    # A neo-Hookean strip stretched s-fold in plane pulls with (s - s^-3) of modulus and thickness; a fillet
    # of radius r takes pressure = pull / r. Two is taken for 2 - 1/8.
    for radius in (0.75, 3.0):
        asked = pressure_per_mm(0.75, radius, None, None)
        assert asked * radius == pytest.approx(2.0 - 2.0**-3, rel=0.1)


def test_the_radius_follows_from_vacuum_and_hot_stiffness():
    # 85 kPa on 0.75 mm of a modulus of 1 MPa
    assert pressure_per_mm(0.75, None, 85e3, 1e6) == pytest.approx(0.085 / 0.75)
    # a fifth of the vacuum leaves five times the radius
    weak, full = (pressure_per_mm(0.75, None, pressure, None) for pressure in (17e3, 85e3))
    assert full == pytest.approx(5.0 * weak)


@pytest.mark.parametrize("sheet_mm", [0.5, 0.75, 3.0])
def test_a_good_vacuum_leaves_about_the_thickness_of_the_sheet(sheet_mm):
    # common practice, no source; the stated hot stiffness is chosen for it
    assert RADIUS_PULL / pressure_per_mm(sheet_mm, None, None, None) == pytest.approx(sheet_mm, rel=0.02)


@pytest.mark.parametrize("friction", [0.0, 0.3, 2.0])
def test_friction_lies_from_none_to_two(friction):
    check_model("membrane", 0.0, None, friction)
    for bad in (-0.01, 2.01, float("nan")):
        with pytest.raises(InputError, match="between 0 and 2"):
            check_model("membrane", 0.0, None, bad)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (lambda: check_settings(0.0, 0.0, 0.0, "fine"), "thicker than 0"),
        (lambda: check_settings(1.0, -1.0, 0.0, "fine"), "sag"),
        (lambda: check_settings(1.0, 0.0, float("nan"), "fine"), "foot"),
        (lambda: check_settings(1.0, 0.0, 0.0, "rough"), "preview, fine"),
        (lambda: check_model("film", 0.0, None, None), "'membrane' or 'geometric'"),
        (lambda: check_model("geometric", 2.0, None, None), "does not support sag"),
        (lambda: check_model("geometric", 0.0, None, 0.2), "does not support sag, vents or friction"),
        (lambda: law_of("steel"), "no sheet law"),
        (lambda: pressure_per_mm(1.0, 0.0, None, None), "radius"),
        (lambda: pressure_per_mm(1.0, 1.0, 85e3, None), "not both"),
        (lambda: pressure_per_mm(1.0, None, 85e3, 0.0), "above 0"),
        (lambda: vents_of([[1.0]]), "finite places"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(bad, words):
    with pytest.raises(InputError, match=words):
        bad()
