import numpy as np
import pytest
from manifold3d import CrossSection, Manifold, OpType
from pytest import approx

from buckwright.errors import JobError
from buckwright.shape.underside.engraving import engraving_tools, lettering, plan_engraving

PLATE = (120.0, 60.0)


def plate():
    return CrossSection.square(PLATE, True)


def test_letters_are_cut_to_their_depth_and_nothing_more():
    made = plan_engraving("Heron", plate(), job_number="J-07")
    block = plate().extrude(6)
    cut = Manifold.batch_boolean([block, *engraving_tools(made)], OpType.Subtract)
    assert made.outline.area() > 0
    assert block.volume() - cut.volume() == approx(0.6 * made.outline.area(), rel=1e-9)
    assert cut.genus() == 0
    assert made.cap_mm == 10.0
    assert made.notes == ()


def test_seen_from_beneath_the_letters_read_right():
    made = plan_engraving("PqR7", plate())
    assert made.angle_deg == 0
    seen_from_beneath = made.outline.translate((-made.centre_mm[0], -made.centre_mm[1])).mirror((1.0, 0.0))
    plain = lettering(["PqR7"], cap_mm=made.cap_mm)
    assert (seen_from_beneath - plain).area() + (plain - seen_from_beneath).area() < 1e-6
    reads_from_above = made.outline.translate((-made.centre_mm[0], -made.centre_mm[1]))
    assert (reads_from_above - plain).area() > 0.2 * plain.area()


def test_capitals_have_the_height_asked_for():
    x0, y0, x1, y1 = lettering(["HHH"], cap_mm=7.0).bounds()
    assert y1 - y0 == approx(7.0, rel=1e-3)
    assert x1 - x0 > 7


def test_letters_with_eyes_have_holes():
    assert lettering(["o"], cap_mm=5).num_contour() == 2
    assert lettering(["8"], cap_mm=5).num_contour() == 3


def test_strokes_of_the_smallest_letters_can_be_printed():
    small = lettering(["Illi"], cap_mm=3.0)
    assert small.offset(-0.25).area() > 0, "no stroke is as wide as half a millimetre"


def test_no_letters_are_cut_that_a_nozzle_of_0_4_mm_cannot_show():
    """They get smaller with the ground until their strokes would be under 0.6 mm; then there are none."""
    made = [plan_engraving("Heron", CrossSection.square((width, 9), True)) for width in range(10, 40)]
    least = min(one.cap_mm for one in made if one.cap_mm)
    assert made[0].cap_mm == 0.0
    stroke = np.diff(lettering(["l"], cap_mm=least).bounds()[::2])[0]
    assert 0.6 <= stroke < 0.8


def test_accents_stay_clear_of_the_descenders_above_them():
    above, below = lettering(["gjpqy"], cap_mm=5.0), lettering(["ÄÉÎÕ"], cap_mm=5.0)
    both = lettering(["gjpqy", "ÄÉÎÕ"], cap_mm=5.0)
    tall = [np.diff(one.bounds()[1::2])[0] for one in (above, below, both)]
    between = tall[2] - tall[0] - tall[1]
    assert 0.0 < between < 0.5 * 5.0


@pytest.mark.parametrize(("high", "largest"), [(11.9, False), (13.5, True)])
def test_a_millimetre_stays_free_above_and_below_the_letters(high, largest):
    made = plan_engraving("HH", CrossSection.square((120, high), True), wall_mm=0.0)
    assert (made.cap_mm == 10.0) == largest
    assert (made.outline.offset(1.0) - CrossSection.square((120, high), True)).area() == 0


def test_letters_stay_clear_of_channels_and_edge():
    barred = CrossSection.square((120, 6), True) + CrossSection.circle(12).translate((-30, 14))
    made = plan_engraving("Lantern hood", plate(), job_number="2026-118", keep_out=barred)
    assert made.outline.area() > 0
    around = made.outline.offset(0.99)
    assert (around ^ barred).area() == 0
    assert (around - plate()).area() == 0


def test_a_long_name_is_wrapped_and_a_narrow_foot_turns_it():
    tall = CrossSection.square((22, 120), True)
    made = plan_engraving("Shoulder shell left", tall)
    assert made.angle_deg == 90
    wide = plan_engraving("river terrain tile number fourteen of the north bank", plate())
    assert len(wide.lines) > 1
    assert " ".join(wide.lines) == "river terrain tile number fourteen of the north bank"


@pytest.mark.parametrize(
    "name", ["Ærø-fågel ß", "Αθήνα", "Маска", "mask $5 & $6_x^2 {a} \\alpha", "100 % ~#"]
)
def test_any_script_of_the_typeface_is_cut_as_it_is(name):
    made = plan_engraving(name, CrossSection.square((200, 60), True))
    assert " ".join(made.lines) == name
    assert made.outline.area() > 0
    assert made.notes == ()


def test_what_the_typeface_lacks_is_replaced_and_told():
    made = plan_engraving("面 mask\x07\n2", plate())
    assert " ".join(made.lines) == "? mask? 2"
    assert "'?'" in made.notes[0]


def test_no_room_is_told():
    made = plan_engraving("Heron", CrossSection.square((9, 4), True))
    assert engraving_tools(made) == []
    assert "no room for lettering" in made.notes[0]
    assert made.to_dict()["cap_mm"] == 0.0


@pytest.mark.parametrize("name", ["", "   "])
def test_nothing_to_write(name):
    assert plan_engraving(name, plate()).outline.is_empty()


def test_lettering_is_repeatable():
    first, second = (plan_engraving("Heron", plate(), job_number="9").outline.to_polygons() for _ in range(2))
    assert all(np.array_equal(a, b) for a, b in zip(first, second, strict=True))


@pytest.mark.parametrize("bad", [{"depth_mm": 0.0}, {"depth_mm": 9.0}, {"wall_mm": -1.0}])
def test_bad_sizes_are_refused(bad):
    with pytest.raises(JobError):
        plan_engraving("x", plate(), **bad)
