"""Puts arrays on the graphics card and draws them over the scene with Blender's own shaders.

Nothing of the user's is touched: neither materials nor colours nor shading; every state of the graphics
card that is changed while drawing is set back. Batches are made once for each result, not while drawing.
"""

from dataclasses import dataclass
from typing import Any, Literal

import gpu
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

__all__ = [
    "CHALK",
    "INK",
    "LIFT_MARKS",
    "FaceBatch",
    "LineBatch",
    "Nearer",
    "State",
    "draw_faces",
    "draw_lines",
    "face_batch",
    "line_batch",
    "recoloured",
    "smooth_batch",
    "vertex_batch",
]

_LIFT = 4e-4
"""How much nearer to the eye faces are drawn, as a share of the distance: enough not to flicker
against the sculpt itself, too little to show through a wall (0.1 mm on a sculpt 250 mm away)."""
LIFT_MARKS = 8e-4
_LEAST_LIFT = 8e-7
"""Least nearing in the depth buffer, where both clip distances are far apart: some seven steps of 24 bits.
The same place, reckoned in another order, differs by up to three; each more shows colours through walls."""
INK, CHALK = (0.12, 0.13, 0.16, 1.0), (0.97, 0.97, 0.97, 1.0)


@dataclass(slots=True)
class FaceBatch:
    """Triangles on the graphics card; places and colours apart, so that a new colour moves no places.

    `smooth` triangles run from one colour to another between their corners.
    """

    places: Any
    batch: Any
    count: int
    smooth: bool = False


@dataclass(slots=True)
class LineBatch:
    """Lines, or triangles without colours, on the graphics card."""

    batch: Any


def _buffer(name: str, kind: str, size: int, fetch: str, data: NDArray[Any]) -> Any:
    layout = gpu.types.GPUVertFormat()
    layout.attr_add(id=name, comp_type=kind, len=size, fetch_mode=fetch)  # type: ignore[arg-type]
    buffer = gpu.types.GPUVertBuf(layout, len(data))
    buffer.attr_fill(name, data)
    return buffer


def _coloured(places: Any, corners: NDArray[np.uint32]) -> Any:
    batch = gpu.types.GPUBatch(type="TRIS", buf=places)
    batch.vertbuf_add(_buffer("color", "U8", 4, "INT_TO_FLOAT_UNIT", corners.view(np.uint8).reshape(-1, 4)))
    return batch


def _whole(colours: NDArray[np.uint8]) -> NDArray[np.uint32]:
    """Colours (N, 4) as a number each, which is faster to gather."""
    return np.ascontiguousarray(colours).view(np.uint32).ravel()


def face_batch(
    vertices: NDArray[np.float32], faces: NDArray[np.integer], colours: NDArray[np.uint8]
) -> FaceBatch:
    """Triangles (F, 3) over vertices (V, 3), each in its colour (F, 4)."""
    places = _buffer("pos", "F32", 3, "FLOAT", vertices.take(faces.reshape(-1), axis=0))
    return FaceBatch(places, _coloured(places, np.repeat(_whole(colours), 3)), len(faces))


def smooth_batch(
    vertices: NDArray[np.float32], faces: NDArray[np.integer], colours: NDArray[np.uint8]
) -> FaceBatch:
    """Triangles (F, 3) over vertices (V, 3) that have a colour each (V, 4)."""
    corners = faces.reshape(-1)
    places = _buffer("pos", "F32", 3, "FLOAT", vertices.take(corners, axis=0))
    return FaceBatch(places, _coloured(places, _whole(colours).take(corners)), len(faces), smooth=True)


def recoloured(faces: FaceBatch, colours: NDArray[np.uint8]) -> FaceBatch:
    """The same triangles in other colours (F, 4)."""
    return FaceBatch(faces.places, _coloured(faces.places, np.repeat(_whole(colours), 3)), faces.count)


def line_batch(ends: NDArray[np.float32]) -> LineBatch | None:
    """Lines between ends in pairs (2 L, 3); None without any."""
    return vertex_batch("LINES", ends) if len(ends) else None


def vertex_batch(kind: Literal["LINES", "TRIS"], places: NDArray[np.float32]) -> LineBatch:
    """Lines or triangles without colours of their own, by the places of their corners (N, 3)."""
    return LineBatch(gpu.types.GPUBatch(type=kind, buf=_buffer("pos", "F32", 3, "FLOAT", places)))


def draw_faces(faces: FaceBatch, matrix: Matrix, region_3d: Any, *, hides: bool = True) -> None:
    """Draw triangles over what is on the screen, those that face the viewer and that nothing hides.

    `hides` is whether they hide what is drawn later behind them.
    """
    with State(depth_mask=hides), Nearer(region_3d, _LIFT), gpu.matrix.push_pop():
        gpu.matrix.multiply_matrix(matrix)
        # A mirrored object shows its faces the other way around.
        gpu.state.front_facing_set(matrix.determinant() < 0.0)
        shader, _border = _shader("SMOOTH_COLOR" if faces.smooth else "FLAT_COLOR", region_3d, matrix)
        faces.batch.draw(shader)


def draw_lines(
    lines: LineBatch,
    matrix: Matrix,
    region_3d: Any,
    *,
    width: float,
    colour: tuple[float, ...] = CHALK[:3],
    edge: bool = True,
) -> None:
    """Draw lines, in chalk or a colour (RGB), with an ink edge to show everywhere; `width` in pixels."""
    with State(depth_mask=False), Nearer(region_3d, LIFT_MARKS), gpu.matrix.push_pop():
        gpu.matrix.multiply_matrix(matrix)
        cut = bool(region_3d.use_clip_planes)
        shader, _border = _shader("UNIFORM_COLOR" if cut else "POLYLINE_UNIFORM_COLOR", region_3d, matrix)
        strokes = [(INK, width + 2.0)] if edge else []
        for paint, pixels in (*strokes, ((*colour, 1.0), width)):
            shader.uniform_float("color", paint)
            if not cut:
                shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
                shader.uniform_float("lineWidth", pixels)
            lines.batch.draw(shader)


class State:
    """Sets the states that the overlay needs and sets them back."""

    def __init__(self, *, depth_mask: bool) -> None:
        self.depth_mask = depth_mask

    def __enter__(self) -> None:
        self.before = gpu.state.blend_get(), gpu.state.depth_test_get(), gpu.state.depth_mask_get()
        gpu.state.blend_set("ALPHA")
        gpu.state.depth_test_set("LESS_EQUAL")
        gpu.state.depth_mask_set(self.depth_mask)
        gpu.state.face_culling_set("BACK")

    def __exit__(self, *_error: object) -> None:
        blend, test, mask = self.before
        gpu.state.blend_set(blend)
        gpu.state.depth_test_set(test)
        gpu.state.depth_mask_set(mask)
        gpu.state.face_culling_set("NONE")
        gpu.state.front_facing_set(False)
        gpu.state.clip_distances_set(0)


class Nearer:
    """Draws a little nearer to the eye without moving anything on the screen."""

    def __init__(self, region_3d: Any, share: float) -> None:
        self.region_3d, self.share = region_3d, share

    def __enter__(self) -> None:
        projection = gpu.matrix.get_projection_matrix()
        gpu.matrix.push_projection()
        moved = nearer(projection, self.share, self.region_3d.view_distance)
        gpu.matrix.load_projection_matrix(moved)

    def __exit__(self, *_error: object) -> None:
        gpu.matrix.pop_projection()


def nearer(projection: Matrix, share: float, distance: float) -> Matrix:
    """A projection that shows everything at the same place, but `share` of its distance nearer.

    What is nearer by a greater share is so by more steps of the depth buffer too: marks stay before colours
    also where both clip distances are so far apart that a share of the distance is less than a step.

    In perspective, scaling the space of the eye moves points along their own lines of sight; without
    perspective they are shifted along the one direction of sight.
    """
    if projection[3][3] == 0.0:
        moved = projection @ Matrix.Diagonal((1.0 - share, 1.0 - share, 1.0 - share, 1.0))
    else:
        moved = projection @ Matrix.Translation((0.0, 0.0, share * distance))
    moved[2] = moved[2] - moved[3] * (_LEAST_LIFT * share / _LIFT)
    return moved


def _shader(name: str, region_3d: Any, matrix: Matrix) -> tuple[Any, Any]:
    """A built-in shader, bound; it cuts at the clipping border of the view if that is on.

    Returns
    -------
    The shader, and what has to be kept alive until it has drawn.
    """
    if not region_3d.use_clip_planes:
        shader = gpu.shader.from_builtin(name)
        shader.bind()
        return shader, None
    shader = gpu.shader.from_builtin(name, config="CLIPPED")
    shader.bind()
    planes = np.zeros((10, 4), np.float32)
    planes[:4] = np.array(matrix.transposed())  # column by column
    planes[4:] = np.array([tuple(plane) for plane in region_3d.clip_planes])
    border = gpu.types.GPUUniformBuf(planes)
    shader.uniform_block("clipPlanes", border)
    gpu.state.clip_distances_set(6)
    return shader, border
