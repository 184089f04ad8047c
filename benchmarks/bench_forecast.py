"""The forecast of a detailed sculpt: seconds, memory, and growth with the nodes.

Run with `pytest benchmarks/bench_forecast.py -s`. The yardstick is scipy's own `spsolve` of one Laplacian on
the same sheet, which every step of the forecast has to solve in some form. 80,000 nodes take a minute, so
they only run when asked for: `BUCKWRIGHT_LARGE=1`.
"""

import os
import resource
import sys
import time
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import spsolve

from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.membrane import Law, forces, reference
from buckwright.forming.forecast.result import Forecast
from buckwright.mesh.triangles import Mesh
from buckwright.relief.raster import Relief, relief_of

SIZE = 120.0
ROOM = 60.0
PIXEL = 0.3


@cache
def heron() -> tuple[Relief, tuple[float, float]]:
    """The heron mask of the samples as sculpted, 120 mm wide, and a frame with 30 mm of room round it."""
    sys.path.insert(0, str(Path(__file__).parents[1] / "sample_scenes"))
    try:
        from sculpts import heron_mask

        vertices, faces = heron_mask.sculpt(2.0)
    finally:
        sys.path.pop(0)
    vertices = vertices * SIZE / np.ptp(vertices, axis=0).max()
    vertices = vertices - [0.0, 0.0, vertices[:, 2].min()]
    width, depth, _ = np.ptp(vertices, axis=0) + ROOM
    return relief_of(Mesh.from_arrays(vertices, faces), pixel_mm=PIXEL), (width, depth)


def run(nodes: int, quality: Any = "fine") -> tuple[Forecast, float, float]:
    """One forecast, its processor seconds and its wall seconds."""
    relief, frame = heron()
    begin, wall = time.process_time(), time.perf_counter()
    result = forecast_sheet(relief, frame_mm=frame, sheet_mm=0.75, nodes=nodes, quality=quality)
    return result, time.process_time() - begin, time.perf_counter() - wall


def laplacian_s(result: Forecast) -> float:
    """Processor seconds of scipy's solve of one graph Laplacian of the sheet, its frame held."""
    ends = np.concatenate([result.triangles[:, [i, j]] for i, j in ((0, 1), (1, 2), (2, 0))])
    count = len(result.flat)
    graph = sparse.coo_matrix((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count)).tocsr()
    graph = graph + graph.T
    full = sparse.diags_array(np.asarray(graph.sum(1)).ravel()) - graph
    free = np.flatnonzero(result.formed.state != 1)
    matrix = sparse.csc_array(full.tocsr()[free][:, free])
    begin = time.process_time()
    spsolve(matrix, np.ones(len(free)))
    return time.process_time() - begin


def told(name: str, result: Forecast, processor: float, wall: float) -> None:
    one = laplacian_s(result)
    print(
        f"\n{name}: {len(result.flat)} nodes, {processor:.1f} s of processor, {wall:.1f} s on the clock, "
        f"{len(result.formed.pressure_per_mm)} steps, {result.formed.factored} factorings; "
        f"{processor / one:.0f} times one spsolve ({one:.2f} s); "
        f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB"
    )


@pytest.fixture(scope="module", autouse=True)
def compiled() -> None:
    run(400, "preview")


def test_preview(benchmark: Any) -> None:
    """5,000 nodes in a preview: wanted within 2 s."""
    result, processor, wall = benchmark.pedantic(run, args=(5_000, "preview"), rounds=1)
    told("preview", result, processor, wall)
    assert not result.formed.stopped


def test_growth(benchmark: Any) -> None:
    """5,000 and 20,000 nodes in full: wanted within 15 s at 20,000; and the power of growth."""
    small, small_s, small_wall = run(5_000)
    large, large_s, large_wall = benchmark.pedantic(run, args=(20_000,), rounds=1)
    told("fine", small, small_s, small_wall)
    told("fine", large, large_s, large_wall)
    power = np.log(large_s / small_s) / np.log(len(large.flat) / len(small.flat))
    print(f"cost grows as nodes to the {power:.2f}")
    # a ratio of one run: steps grow as the root of the nodes, a solve as n log n
    assert power < 2.2
    assert abs(large.volume_error) <= 1e-9


@pytest.mark.skipif(not os.environ.get("BUCKWRIGHT_LARGE"), reason="takes a minute; set BUCKWRIGHT_LARGE=1")
def test_eighty_thousand(benchmark: Any) -> None:
    """80,000 nodes: wanted within 60 s."""
    result, processor, wall = benchmark.pedantic(run, args=(80_000,), rounds=1)
    told("fine", result, processor, wall)
    assert abs(result.volume_error) <= 1e-9


def numpy_forces(x: Any, ref: Any) -> Any:
    """Elastic forces of a taut neo-Hookean sheet by whole arrays: S = I - C^-1 / det C, f = -V F S A^-T."""
    u, v = (x[ref.triangles[:, k]] - x[ref.triangles[:, 0]] for k in (1, 2))
    inverse = ref.inverse.reshape(-1, 2, 2)
    stretch = np.stack([u, v], axis=2) @ inverse
    metric = stretch.transpose(0, 2, 1) @ stretch
    stress = np.eye(2) - np.linalg.inv(metric) / np.linalg.det(metric)[:, None, None]
    pull = (ref.area_mm2 * ref.weight)[:, None, None] * stretch @ stress @ inverse.transpose(0, 2, 1)
    out = np.zeros_like(x)
    for k in range(2):
        for axis in range(3):
            part = np.bincount(ref.triangles[:, k + 1], pull[:, axis, k], len(x))
            first = np.bincount(ref.triangles[:, 0], pull[:, axis, k], len(x))
            out[:, axis] += first - part
    return out


def test_forces_against_whole_arrays(benchmark: Any) -> None:
    """What compiling buys: one pass of forces over some 10,000 triangles that are all taut."""
    result, _, _ = run(5_000)
    flat = np.column_stack([result.flat, np.zeros(len(result.flat))])
    ref = reference(result.flat, result.triangles)
    x = flat * [1.3, 1.2, 1.0] + np.random.default_rng(0).normal(0.0, 0.02, flat.shape)
    none = np.zeros(len(result.triangles), np.bool_)
    ours = benchmark(lambda: forces(x, ref, Law(), none)[0])
    theirs = numpy_forces(x, ref)
    assert np.abs(ours - theirs).max() < 1e-9 * np.abs(theirs).max()
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        numpy_forces(x, ref)
        times.append(time.perf_counter() - begin)
    print(
        f"\nforces of {len(result.triangles)} triangles: "
        f"{min(times) / benchmark.stats.stats.min:.0f} times as fast as whole arrays"
    )
