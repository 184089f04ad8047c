"""The slice to try on: the section at 1:1, and a ring around it."""

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.output.flat.drawing import FlatDrawing, Line, Words, bar

__all__ = ["ring_around", "section_drawing", "section_of"]

_CIRCLE = 64
_TEXT_MM = 4.0
# Turns an axis of the sculpt up, the other two in their order: seen from the end of the axis.
_UP = {
    "x": np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]),
    "y": np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]),
    "z": np.eye(3),
}


def section_of(solid: Manifold, along: str, level_mm: float) -> CrossSection:
    """Section of a solid across an axis, seen from the end of the axis.

    Parameters
    ----------
    solid : in its own axes, mm
    along : 'x', 'y' or 'z'
    level_mm : where along that axis

    Raises
    ------
    InputError
        There is nothing at that level.
    """
    section = solid.transform(np.column_stack([_UP[along], np.zeros(3)])).slice(level_mm)
    if section.is_empty():
        raise InputError("the section to try on is empty; move it by size.level_share")
    return section


def ring_around(section: CrossSection, *, wall_mm: float, high_mm: float) -> Mesh:
    """A band to print whose inside is the section.

    Parameters
    ----------
    section : mm
    wall_mm : thickness of the band, outside the section
    high_mm : how high it is

    Returns
    -------
    Mesh : closed, on z = 0
    """
    outside = section.offset(wall_mm, JoinType.Round, circular_segments=_CIRCLE)
    return from_manifold((outside - section).extrude(high_mm))


def section_drawing(section: CrossSection, words: str) -> FlatDrawing:
    """The section as a template at 1:1, with a bar of 100 mm to check the print with.

    Parameters
    ----------
    section : mm
    words : what it is and what it measures
    """
    outlines: list[NDArray[np.float64]] = [np.asarray(ring, np.float64) for ring in section.to_polygons()]
    low = np.concatenate(outlines).min(axis=0)
    return FlatDrawing(
        name="try_on",
        title=words,
        lines=(*(Line("cut", ring) for ring in outlines), *bar(float(low[0]), float(low[1]) - 12.0)),
        words=(Words("reference", float(low[0]), float(low[1]) - 24.0, _TEXT_MM, words),),
    )
