import numpy as np
import pytest
from pytest import approx

from buckwright.errors import JobError
from buckwright.shape.vents.face_hole import face_hole


@pytest.mark.parametrize(("sheet", "width"), [(0.3, 0.5), (0.75, 0.75), (3.0, 1.0)])
def test_the_hole_is_as_wide_as_the_sheet_is_thick_within_the_range(sheet, width):
    hole = face_hole(sheet_mm=sheet, low_mm=0.5, high_mm=1.0, printer_min_hole_mm=0.2)
    assert (hole.opening, hole.width_mm, hole.note) == ("hole", width, "")
    assert hole.area_mm2 == approx(np.pi / 4 * width**2)


def test_a_hole_that_cannot_be_printed_becomes_a_dimple_with_a_drill():
    hole = face_hole(sheet_mm=0.8, low_mm=0.5, high_mm=1.0, printer_min_hole_mm=1.0)
    assert hole.opening == "dimple"
    assert "drill 0.8 mm after printing" in hole.note


def test_or_a_slot_that_the_printer_can_make_and_that_is_no_wider_than_allowed():
    hole = face_hole(sheet_mm=0.8, low_mm=0.5, high_mm=1.0, printer_min_hole_mm=1.0, when_small="slot")
    assert hole.opening == "slot"
    assert 0.4 <= hole.width_mm <= 0.8
    assert hole.area_mm2 == approx(hole.width_mm * hole.length_mm)


def test_no_slot_where_even_that_is_too_fine():
    hole = face_hole(sheet_mm=0.3, low_mm=0.25, high_mm=0.6, printer_min_hole_mm=1.0, when_small="slot")
    assert hole.opening == "dimple"


@pytest.mark.parametrize(
    "bad", [{"low_mm": 2.0}, {"sheet_mm": 0.0}, {"when_small": "square"}, {"printer_min_slot_mm": 0.0}]
)
def test_bad_sizes_are_refused(bad):
    with pytest.raises(JobError):
        face_hole(**({"sheet_mm": 1.0, "low_mm": 0.5, "high_mm": 1.0} | bad))
