"""Draft envelope and fill of organic sculpts, against scipy's grey dilation and brute force.

Run with `pytest benchmarks/bench_fill.py -s`; ratios are taken in one run.
"""

import sys
import time
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from manifold3d import Manifold
from scipy.ndimage import grey_dilation

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.shape.fill.cones import cone_envelope
from buckwright.shape.fill.draft_fill import Fill, fill_draft
from buckwright.shape.fill.envelope_solid import CellSizes
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.survey.draft import draft_deg

DRAFT = 5.0
PIXELS = 1000


@cache
def bust(coarse: float = 1.0) -> Manifold:
    """The antlered faun of the samples, face up, what stands above its widest outline."""
    sys.path.insert(0, str(Path(__file__).parents[1] / "sample_scenes"))
    try:
        from sculpts import antler_bust

        vertices, faces = antler_bust.sculpt(coarse)
    finally:
        sys.path.pop(0)
    up = np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])
    body = as_solid(Mesh.from_arrays(vertices @ up.T, faces))
    low, high = body.bounding_box()[2], body.bounding_box()[5]
    widest = float(max(np.linspace(low, high, 50)[1:-1], key=lambda z: body.slice(float(z)).area()))
    return body.trim_by_plane((0.0, 0.0, 1.0), widest).translate((0.0, 0.0, -widest))


def terrain() -> tuple[np.ndarray, float]:
    """The bust as a raster of 1000 pixels a side, its ground at 0."""
    mesh = as_mesh(bust(2.0))
    pixel = float(mesh.size[:2].max()) / PIXELS
    heights = relief_of(mesh, pixel_mm=pixel).height
    square = np.zeros((PIXELS, PIXELS))
    part = np.maximum(heights, 0.0)[:PIXELS, :PIXELS]
    square[: part.shape[0], : part.shape[1]] = part
    return square, pixel


def by_grey_dilation(height: np.ndarray, pixel: float) -> np.ndarray:
    """The same envelope as a dilation by a cone just large enough for the range of heights."""
    fall = pixel / np.tan(np.radians(DRAFT))
    radius = int(np.ceil(np.ptp(height) / fall))
    j, i = np.mgrid[-radius : radius + 1, -radius : radius + 1]
    return grey_dilation(height, structure=-fall * np.hypot(j, i), mode="constant", cval=-np.inf)


def by_brute_force(height: np.ndarray, pixel: float, pixels: np.ndarray) -> np.ndarray:
    """Greatest of all cones at chosen pixels (N, 2)."""
    fall = pixel / np.tan(np.radians(DRAFT))
    j, i = np.indices(height.shape)
    return np.array([(height - fall * np.sqrt((j - y) ** 2 + (i - x) ** 2)).max() for y, x in pixels])


def test_envelope_against_grey_dilation(benchmark: Any) -> None:
    height, pixel = terrain()
    cone_envelope(height, pixel_mm=pixel, draft_deg=DRAFT)
    out = benchmark.pedantic(
        cone_envelope, args=(height,), kwargs={"pixel_mm": pixel, "draft_deg": DRAFT}, rounds=5
    )
    ours = benchmark.stats.stats.min
    start = time.perf_counter()
    dilated = by_grey_dilation(height, pixel)
    theirs = time.perf_counter() - start
    changed = np.argwhere(out > height)
    chosen = changed[np.random.default_rng(0).choice(len(changed), 400, replace=False)]
    window = np.argwhere(np.ones((16, 16))) + changed[len(changed) // 2]
    pixels = np.concatenate([chosen, window.clip(0, PIXELS - 1)])
    exact = by_brute_force(height, pixel, pixels)
    benchmark.extra_info.update(times_grey_dilation=theirs / ours, raised_pixels=len(changed))
    print(f"\nenvelope {ours:.3f} s, grey dilation {theirs:.2f} s: {theirs / ours:.0f} times")
    np.testing.assert_allclose(out, dilated, atol=1e-9, rtol=0)
    assert np.abs(out[pixels[:, 0], pixels[:, 1]] - exact).max() == 0.0
    assert theirs > 20.0 * ours


def filled(body: Manifold, mesh: Mesh, columns: Columns) -> Fill:
    """As `make` fills by default: 350 cells across the larger side."""
    cell = float(mesh.size[:2].max()) / 350.0
    cells = CellSizes(cell_mm=cell, wall_cell_mm=cell / 2.0, rim_cell_mm=cell / 4.0)
    return fill_draft(mesh, columns, draft_deg(mesh), wall_deg=3.0, settings=cells, solid=body)


@pytest.mark.parametrize("coarse", [2.0, 1.0])
def test_fill_of_a_bust(benchmark: Any, coarse: float) -> None:
    body = bust(coarse)
    mesh = as_mesh(body)
    columns = Columns(mesh)
    fill = benchmark.pedantic(filled, args=(body, mesh, columns), rounds=1, warmup_rounds=int(coarse == 2.0))
    benchmark.extra_info.update(faces=mesh.face_count, faces_after=fill.solid.num_tri())
    print(f"\n{mesh.face_count} faces: {benchmark.stats.stats.min:.1f} s, {fill.solid.num_tri()} after")
    assert fill.added_volume_mm3 > 10_000.0
