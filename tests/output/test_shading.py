"""Patterns and outlines on plain pixels; light on a ball."""

import numpy as np

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.normals import normals_and_areas, unit_normals
from buckwright.output.canvas.palette import FREE, TIGHT, TRAPPED
from buckwright.output.canvas.shading import hatched, outlined, patterned, shaded
from buckwright.output.canvas.views import SHARPNESS, TOP, take

GREY = np.full((40, 60, 3), 120, np.uint8)


def test_each_state_has_its_own_pattern() -> None:
    free, tight, trapped = (
        patterned(GREY, np.full(GREY.shape[:2], state)) for state in (FREE, TIGHT, TRAPPED)
    )
    assert (free == GREY).all()
    assert (tight < GREY).any() and not (tight > GREY).any()
    assert (trapped > GREY).any() and not (trapped < GREY).any()
    assert 0.1 < (trapped != GREY).mean() < 0.5


def test_pattern_stays_inside_its_state() -> None:
    state = np.full(GREY.shape[:2], FREE)
    state[:, :30] = TRAPPED
    assert (patterned(GREY, state)[:, 30:] == GREY[:, 30:]).all()


def test_hatching_and_outlines() -> None:
    hidden = np.zeros(GREY.shape[:2], bool)
    hidden[10:20, 10:20] = True
    result = hatched(GREY, hidden)
    assert (result[~hidden] == GREY[~hidden]).all()
    assert (result[hidden] != GREY[hidden]).any()
    edges = (outlined(GREY, np.where(hidden, 0, -1)) != GREY).any(-1)
    assert edges[9:11, 10:20].all() and edges[10:20, 19:21].all()
    assert not edges[12:18, 12:18].any() and not edges[:8].any()


def test_light_comes_from_the_upper_left(sculpt: Mesh) -> None:
    shot = take(sculpt, TOP, width=200 / SHARPNESS, height=200 / SHARPNESS)
    colours = np.full((sculpt.face_count, 3), 200, np.uint8)
    pixels = shaded(shot, unit_normals(sculpt), colours).astype(float).mean(-1)
    half = pixels.shape[0] // 2
    upper_left, lower_right = (
        pixels[half + 30 : half + 50, half - 50 : half - 30],
        pixels[half - 50 : half - 30, half + 30 : half + 50],
    )
    assert upper_left.mean() > lower_right.mean() + 20
    assert pixels[0, 0] == 255  # paper


def test_flat_strength_keeps_the_colours(sculpt: Mesh) -> None:
    shot = take(sculpt, TOP, width=200 / SHARPNESS, height=200 / SHARPNESS)
    colours = np.full((sculpt.face_count, 3), 200, np.uint8)
    pixels = shaded(shot, unit_normals(sculpt), colours, strength=0.0)
    middle = pixels[80:120, 80:120]
    assert (middle == 200).all()


def test_normals_and_areas_agree_with_the_cross_product(sculpt: Mesh) -> None:
    vectors = sculpt.area_vectors()
    lengths = np.linalg.norm(vectors, axis=1)
    units, areas = normals_and_areas(sculpt)
    assert np.allclose(areas, lengths, rtol=1e-12)
    assert np.allclose(units, vectors / lengths[:, None], atol=1e-12)
    flat = Mesh.from_arrays(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]), [[0, 1, 2]])
    assert (unit_normals(flat) == 0).all()
