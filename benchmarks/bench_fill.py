"""Draft fill of an organic sculpt.

Run with `pytest benchmarks/bench_fill.py -s`.
"""

import sys
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from manifold3d import Manifold

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
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
