import numpy as np
import pytest

from buckwright.errors import JobError, MeshError
from buckwright.mesh.units import doubtful_size, mm_per, scale_for


@pytest.mark.parametrize(("unit", "wanted"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", 25.4)])
def test_millimetres_in_each_unit(unit, wanted):
    assert mm_per(unit) == wanted


def test_unknown_unit_names_the_known_ones():
    with pytest.raises(JobError, match="use one of mm, cm, m, in"):
        mm_per("furlong")


def test_scale_to_one_measurement():
    size = (20.0, 30.0, 40.0)
    assert scale_for(size) == 1.0
    assert scale_for(size, width=10.0) == 0.5
    assert scale_for(size, depth=60.0) == 2.0
    assert scale_for(size, height=60.0) == 1.5


@pytest.mark.parametrize("height", [0.0, -1.0, np.nan, np.inf])
def test_scale_refuses_what_is_no_length(height):
    with pytest.raises(JobError, match="above 0"):
        scale_for((1, 1, 1), height=height)


def test_scale_refuses_two_wishes_and_flat_sculpts():
    with pytest.raises(JobError, match="only one"):
        scale_for((1, 1, 1), height=1.0, width=2.0)
    with pytest.raises(MeshError, match="no height"):
        scale_for((1, 1, 0), height=1.0)


@pytest.mark.parametrize(
    ("across", "unit"),
    [
        (0.165, "metres (x 1000)"),
        (4.9, "centimetres (x 10)"),
        (165000.0, "microns (x 0.001)"),
        (1e9, "is the unit right?"),
    ],
)
def test_doubtful_size_suggests_the_likely_unit(across, unit):
    question = doubtful_size((across / 2, across, across / 3))
    assert question is not None
    assert unit in question


@pytest.mark.parametrize("across", [5.0, 165.0, 2000.0])
def test_usual_size_is_not_questioned(across):
    assert doubtful_size((1.0, across, 1.0)) is None


def test_metres_question_names_the_factor_and_the_size():
    question = doubtful_size((0.165, 0.1, 0.1))
    assert question is not None
    assert "x 1000" in question
    assert "165 mm" in question
