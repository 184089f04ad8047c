"""The colours stay apart in grey and for the commonest colour deficiencies."""

from itertools import combinations

import numpy as np
import pytest

from buckwright.output.canvas.palette import ORIGIN_COLOURS, STATE_COLOURS, luminance

# Linear-RGB matrices for complete protanopia, deuteranopia and tritanopia: Machado, Oliveira and
# Fernandes, "A physiologically-based model for simulation of color vision deficiency", 2009, severity 1.
# From memory; used only to see that colours stay well apart, not as exact values.
DEFICIENCIES = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
JUDGED = STATE_COLOURS[:3]


def contrast(one, other) -> float:
    """Contrast ratio as in WCAG 2: (L1 + 0.05) / (L2 + 0.05)."""
    light, dark = sorted((float(luminance(one)), float(luminance(other))), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(("one", "other"), list(combinations(JUDGED, 2)))
def test_states_differ_in_grey(one, other) -> None:
    assert contrast(one, other) > 1.6


def test_fill_differs_from_the_rest_of_the_buck_in_grey() -> None:
    sculpt, fill, base = ORIGIN_COLOURS
    assert contrast(sculpt, fill) > 1.6
    assert contrast(base, fill) > 1.6


@pytest.mark.parametrize("kind", DEFICIENCIES)
@pytest.mark.parametrize(("one", "other"), list(combinations(JUDGED, 2)))
def test_states_differ_for_colour_deficient_eyes(kind: str, one, other) -> None:
    matrix = np.array(DEFICIENCIES[kind])
    seen = [np.clip(matrix @ np.array(colour) ** 2.2, 0, 1) ** (1 / 2.2) for colour in (one, other)]
    assert np.abs(seen[0] - seen[1]).max() > 0.2


def test_luminance_of_white_black_and_middle_grey() -> None:
    assert float(luminance((1.0, 1.0, 1.0))) == pytest.approx(1.0)
    assert float(luminance((0.0, 0.0, 0.0))) == 0.0
    assert float(luminance((0.5, 0.5, 0.5))) == pytest.approx(0.214041, abs=1e-6)  # arithmetic on the formula
