"""Lines in pixels over a viewport, with an ink edge that shows them on every ground."""

from typing import Any

import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from numpy.typing import NDArray

__all__ = ["INK", "circle", "closed", "draw_strokes"]

INK = (0.12, 0.13, 0.16, 1.0)
_EDGE = 2.0

type Points = NDArray[np.float64]


def circle(x: float, y: float, radius: float, *, corners: int = 32) -> Points:
    """A regular polygon as ends of lines in pairs (2 C, 2), a corner on top."""
    angles = np.pi / 2.0 + np.arange(corners) * 2.0 * np.pi / corners
    return closed(np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)]))


def closed(corners: Points) -> Points:
    """The lines around corners (C, 2), as ends in pairs (2 C, 2)."""
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1).reshape(-1, 2)


def draw_strokes(ends: Points, colour: tuple[float, ...], *, width: float) -> None:
    """Draw lines between ends in pairs (2 L, 2), in pixels of the region; `colour` is RGB."""
    if not len(ends):
        return
    shader: Any = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    places = [(float(x), float(y), 0.0) for x, y in ends]
    batch = batch_for_shader(shader, "LINES", {"pos": places})
    before = gpu.state.blend_get()
    gpu.state.blend_set("ALPHA")
    for paint, pixels in ((INK, width + _EDGE), ((*colour[:3], 1.0), width)):
        shader.uniform_float("color", paint)
        shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
        shader.uniform_float("lineWidth", pixels)
        batch.draw(shader)
    gpu.state.blend_set(before)
