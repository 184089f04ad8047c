"""Hatching as it is drawn: stripes of one width on the screen, whatever mesh lies under them."""

from importlib import import_module
from types import ModuleType, SimpleNamespace
from typing import Any

import bpy
import gpu
import numpy as np
import pytest
from mathutils import Matrix
from numpy.typing import NDArray

pytestmark = pytest.mark.usefixtures("scene")
SIDE = 128


@pytest.fixture(scope="module")
def drawing(addon: ModuleType) -> SimpleNamespace:
    names = ("overlay_gpu", "hatching")
    return SimpleNamespace(**{name: import_module(f"{addon.__name__}.view.{name}") for name in names})


def square(side: int, size: float) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """A flat square of 2 side^2 triangles around the origin."""
    line = np.linspace(-size / 2.0, size / 2.0, side + 1)
    x, y = np.meshgrid(line, line, indexing="ij")
    vertices = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1).astype(np.float32)
    first = (np.arange(side)[:, None] * (side + 1) + np.arange(side)).ravel()
    quads = np.stack([first, first + side + 1, first + side + 2, first + 1], axis=1)
    return vertices, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]).astype(np.int32)


def projection(near: float, far: float) -> Matrix:
    """A perspective of 90 degrees."""
    depth, shift = -(far + near) / (far - near), -2.0 * far * near / (far - near)
    return Matrix(((1, 0, 0, 0), (0, 1, 0, 0), (0, 0, depth, shift), (0, 0, -1, 0)))


def view(distance: float, **more: Any) -> SimpleNamespace:
    return SimpleNamespace(**{"use_clip_planes": False, "view_distance": distance, "clip_planes": []} | more)


def picture(
    drawing: SimpleNamespace,
    vertices: NDArray[np.float32],
    faces: NDArray[np.int32],
    *,
    size: float = 1.0,
    lean_deg: float = 0.0,
    near: float = 0.01,
    far: float = 1000.0,
    scale: float = 1.0,
    **more: Any,
) -> NDArray[np.int64]:
    """Red channel (SIDE, SIDE) of plain red faces, hatched, from 0.7 times their size away."""
    gpu.init()
    screen = gpu.types.GPUOffScreen(SIDE, SIDE)
    place = Matrix.Translation((0, 0, -0.7 * size)) @ Matrix.Rotation(np.radians(lean_deg), 4, "X")
    red = np.tile(np.array([120, 0, 0, 255], np.uint8), (len(faces), 1))
    base = drawing.overlay_gpu.face_batch(vertices, faces, red)
    stripes = drawing.hatching.hatched(vertices, faces)
    seen = view(0.7 * size, **more)
    with screen.bind():
        buffer = gpu.state.active_framebuffer_get()
        buffer.clear(color=(0.0, 0.0, 0.0, 1.0), depth=1.0)
        with gpu.matrix.push_pop(), gpu.matrix.push_pop_projection():
            gpu.matrix.load_matrix(Matrix.Identity(4))
            gpu.matrix.load_projection_matrix(projection(near, far))
            drawing.overlay_gpu.draw_faces(base, place, seen)
            drawing.hatching.draw_hatching(stripes, place, seen, scale=scale)
        pixels = buffer.read_color(0, 0, SIDE, SIDE, 4, 0, "UBYTE")
    pixels.dimensions = SIDE * SIDE * 4
    found = np.array(pixels, np.uint8).reshape(SIDE, SIDE, 4).astype(np.int64)
    screen.free()
    return found


def chalk(pixels: NDArray[np.int64]) -> NDArray[np.bool_]:
    return np.asarray(pixels[..., 1] > 120)


INSIDE = slice(20, SIDE - 20)


def test_stripes_are_as_wide_on_any_mesh_and_at_any_size(drawing: SimpleNamespace) -> None:
    first = picture(drawing, *square(1, 1.0))[INSIDE, INSIDE]
    assert 0.08 < chalk(first).mean() < 0.3
    for side, size in ((1, 150.0), (40, 150.0), (40, 1.0), (1, 0.01)):
        again = picture(drawing, *square(side, size), size=size, near=0.001 * size, far=1e4 * size)
        assert np.abs(again[INSIDE, INSIDE] - first).max() <= 2, (side, size)


@pytest.mark.parametrize("side", [1, 40])
@pytest.mark.parametrize("lean_deg", [0.0, 35.0, 60.0])
def test_hatching_is_whole_where_depths_are_coarse(
    drawing: SimpleNamespace, side: int, lean_deg: float
) -> None:
    """A sculpt of 150 units in a scene of millimetres, with the clipping that Blender starts with."""
    whole = picture(drawing, *square(side, 1.0), lean_deg=lean_deg, near=0.1, far=10.0)
    coarse = picture(drawing, *square(side, 150.0), size=150.0, lean_deg=lean_deg, near=0.01, far=1000.0)
    both = (whole[..., 0] > 60) & (coarse[..., 0] > 60)
    assert both.sum() > 3000
    assert (chalk(whole) & both).sum() > 400
    assert (chalk(whole) != chalk(coarse))[both].mean() < 0.005


def test_the_distance_of_stripes_is_that_of_pixels(drawing: SimpleNamespace) -> None:
    for scale in (1.0, 2.0):
        row = chalk(picture(drawing, *square(1, 1.0), scale=scale))[SIDE // 2, INSIDE]
        starts = np.flatnonzero(np.diff(row.astype(int)) == 1)
        # Stripes at 45 degrees are further apart along a row.
        assert np.diff(starts).mean() == pytest.approx(
            np.sqrt(2.0) * scale * drawing.hatching.PERIOD, abs=0.4 * scale
        )


def test_hatching_is_hidden_by_what_is_before_it_and_cut_by_the_border(drawing: SimpleNamespace) -> None:
    vertices, faces = square(1, 1.0)
    turned = picture(drawing, vertices, faces[:, ::-1])
    assert not chalk(turned).any()
    planes = [(-1.0, 0.0, 0.0, 0.0)] + [(0.0, 0.0, 0.0, 1.0)] * 5
    cut = picture(drawing, vertices, faces, use_clip_planes=True, clip_planes=planes)
    assert chalk(cut)[INSIDE, : SIDE // 2 - 2].any() and not chalk(cut)[:, SIDE // 2 + 2 :].any()


def test_nothing_is_hatched_without_faces(drawing: SimpleNamespace) -> None:
    assert drawing.hatching.hatched(np.zeros((3, 3), np.float32), np.empty((0, 3), np.int32)) is None
    assert bpy.app.background
