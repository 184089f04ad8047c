"""The objective: what a setup costs a maker, as one number."""

from buckwright.pose.setups.measuring import Figures

__all__ = ["RELIEF_SHARE", "cost_of"]

RELIEF_SHARE = 0.6
"""A sculpt that stands on at least this share of its outline has a flat foot. House rule."""

# What each thing counts against losing all detail, which counts 1. House rules: a judgement of what a maker
# would rather have, checked on the shapes of tests/pose/test_expected_setups.py.
_FILL = 0.12
_DRAW = 0.08
_FOOTPRINT = 0.02
_TRAPPED = 0.05
_NO_FOOT = 0.3
_NO_FOOT_SHELL = 0.1
_SUNK = 0.15
_NEEDLESS_CUT = 0.15
_HOLLOW = 0.2


def cost_of(figures: Figures, *, size_mm: float, area_mm2: float, shell: bool = False) -> float:
    """What a setup costs; less is better.

    Parameters
    ----------
    figures : of the setup
    size_mm : side of a cube as large as the sculpt's convex hull
    area_mm2 : surface of the sculpt
    shell : whether it is little else than thin walls

    Notes
    -----
    The greatest part is the share of the sculpt's detail that the part will not show well. Surface that is
    cut off by sinking or hidden under fill is lost; a wall that merely gets its draft is not; what lies
    beside a height or in a cleft, where the sheet gets thin and webs, is lost by 0.4. Lively surface counts
    up to eleven times as much as plain surface, and the flat foot on which the sculpt stands does not
    count. A shell shows one side of its walls: the other loses only what that side does not have (see
    `walls`). To this is added what it takes to print and to form: 0.12 times the volume of fill over that
    of the convex hull, 0.08 times the draw (height over the root of the footprint), 0.02 times the
    footprint over the square of the sculpt's size, and 0.05 times the trapped share of the surface.
    Standing on a flat foot is free: a body that is left whole without one costs up to 0.3 more (a shell up
    to 0.1, as it stands on what fills its hollow), one that is sunk 0.15 more; beyond that 0.15 if it has a
    flat foot already, and up to 0.2 where the cut opens a hollow. Nothing in it depends on how the file is
    turned.
    """
    footless = max(1.0 - figures.foot_share / RELIEF_SHARE, 0.0)
    sunk = figures.sink_mm > 0.0
    cost: float = (
        figures.lost_share
        + _FILL * figures.fill_volume_mm3 / size_mm**3
        + _DRAW * figures.height_mm / max(figures.footprint_mm2, 1e-6 * size_mm**2) ** 0.5
        + _FOOTPRINT * figures.footprint_mm2 / size_mm**2
        + _TRAPPED * figures.trapped_area_mm2 / area_mm2
        + (
            _SUNK + _NEEDLESS_CUT * (footless == 0.0) + _HOLLOW * figures.hollow_share
            if sunk
            else (_NO_FOOT_SHELL if shell else _NO_FOOT) * footless
        )
    )
    return cost
