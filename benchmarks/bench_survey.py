"""Draft, reach, sideways movement and pull search on an organic mesh of 1 million faces.

Ratios are taken in one run against numpy's cross product, a bare Embree query, Blender's BVH tree (where
`bpy` is installed) and brute force. Run with `pytest benchmarks/bench_survey.py`.
"""

import time
from collections.abc import Callable
from functools import cache
from typing import Any

import numba
import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.search import find_setups
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.survey.draft import draft_deg
from buckwright.survey.regions import undercut_regions
from buckwright.survey.sideways import sideways_mm
from buckwright.survey.undercut import find_trapped

ROUNDS = 5


@cache
def organic(side: int = 289) -> Mesh:
    """A sphere from a cube of side x side squares a face (12 side^2 triangles), folded by waves."""
    ticks = np.tan(np.linspace(-1.0, 1.0, side + 1) * np.pi / 4)
    u, v = np.meshgrid(ticks, ticks, indexing="ij")
    first = (np.arange(side)[:, None] * (side + 1) + np.arange(side)).ravel()
    quads = np.stack([first, first + side + 1, first + side + 2, first + 1], axis=1)
    points, faces = [], []
    for axis in range(3):
        for sign in (1, -1):
            plate = np.empty(((side + 1) ** 2, 3))
            plate[:, axis], plate[:, (axis + 1) % 3], plate[:, (axis + 2) % 3] = sign, u.ravel(), v.ravel()
            turned = quads[:, ::sign] + len(points) * (side + 1) ** 2
            faces += [turned[:, [0, 1, 2]], turned[:, [0, 2, 3]]]
            points.append(plate)
    key = np.round(np.concatenate(points) * 1e9).astype(np.int64)
    _, kept, renamed = np.unique(key, axis=0, return_index=True, return_inverse=True)
    ball = np.concatenate(points)[kept]
    ball /= np.linalg.norm(ball, axis=1)[:, None]
    rng = np.random.default_rng(0)
    radius, shift = np.ones(len(ball)), np.zeros_like(ball)
    for k in range(40):
        wave = np.sin(ball @ (rng.normal(size=3) * (2.0 + 0.5 * k)) + rng.uniform(0.0, 6.28))
        radius += 0.35 / (2 + k) * wave
        shift += (0.25 / (2 + k) * wave)[:, None] * rng.normal(size=3)
    return Mesh.from_arrays(
        100.0 * (ball * radius[:, None] + shift), renamed.reshape(-1)[np.concatenate(faces)]
    )


def best_s(work: Callable[[], Any], rounds: int = ROUNDS) -> float:
    """Least time of several runs, the fairest on a machine that others use too."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def plain_draft(mesh: Mesh) -> np.ndarray:
    v, f = mesh.vertices, mesh.faces
    normal = np.cross(v[f[:, 1]] - v[f[:, 0]], v[f[:, 2]] - v[f[:, 0]])
    return np.degrees(np.arcsin(normal[:, 2] / np.linalg.norm(normal, axis=1)))


def embree_covered(mesh: Mesh) -> np.ndarray:
    """Build the tree, one ray a face from above, compare what was hit."""
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene

    scene = EmbreeScene()
    TriangleMesh(scene, mesh.corners().astype(np.float32))
    start = mesh.centroids().astype(np.float32)
    start[:, 2] = mesh.bounds[1, 2] + 1.0
    down = np.tile(np.array([0.0, 0.0, -1.0], np.float32), (mesh.face_count, 1))
    return scene.run(start, down) != np.arange(mesh.face_count)


def blender_covered(mesh: Mesh) -> np.ndarray:
    """Build Blender's tree from Python lists, one ray a face in a Python loop: there is no other way in."""
    from mathutils import Vector
    from mathutils.bvhtree import BVHTree

    tree = BVHTree.FromPolygons(mesh.vertices.tolist(), mesh.faces.tolist(), all_triangles=True)
    down, height = Vector((0.0, 0.0, -1.0)), float(mesh.bounds[1, 2]) + 1.0
    cast = tree.ray_cast
    hit = [cast((x, y, height), down)[2] for x, y in mesh.centroids()[:, :2].tolist()]
    return np.array([-1 if h is None else h for h in hit]) != np.arange(mesh.face_count)


def test_draft(benchmark: Any) -> None:
    mesh = organic()
    draft_deg(mesh)
    benchmark.pedantic(draft_deg, args=(mesh,), rounds=ROUNDS)
    ours, plain = best_s(lambda: draft_deg(mesh), 9), best_s(lambda: plain_draft(mesh), 9)
    benchmark.extra_info["times_np_cross"] = plain / ours
    print(f"\ndraft {ours * 1e3:.1f} ms, np.cross {plain * 1e3:.1f} ms: {plain / ours:.1f} times")
    assert plain > 5.0 * ours


def test_draft_and_reach_against_embree(benchmark: Any) -> None:
    pytest.importorskip("embreex")
    mesh = organic()
    reach = find_trapped(mesh)
    benchmark.pedantic(find_trapped, args=(mesh,), rounds=ROUNDS)
    ours, theirs = best_s(lambda: find_trapped(mesh)), best_s(lambda: embree_covered(mesh))
    differs = float((embree_covered(mesh) != reach.covered).mean())
    benchmark.extra_info.update(times_embree=theirs / ours, embree_differs=differs)
    print(f"\nreach {ours:.3f} s, Embree {theirs:.3f} s: {theirs / ours:.2f} times; {differs:.1e} differ")
    assert theirs > 1.5 * ours


def test_draft_and_reach_against_blender(benchmark: Any) -> None:
    pytest.importorskip("bpy")
    mesh = organic()
    reach = find_trapped(mesh)
    benchmark.pedantic(find_trapped, args=(mesh,), rounds=ROUNDS)
    ours, theirs = best_s(lambda: find_trapped(mesh)), best_s(lambda: blender_covered(mesh), 2)
    differs = float((blender_covered(mesh) != reach.covered).mean())
    benchmark.extra_info.update(times_blender=theirs / ours, blender_differs=differs)
    print(f"\nreach {ours:.3f} s, Blender {theirs:.2f} s: {theirs / ours:.1f} times; {differs:.1e} differ")
    assert theirs > 5.0 * ours


def test_reach_is_exact(benchmark: Any) -> None:
    """All faces against brute force, closed and with a fifth of the faces taken out."""
    for opened in (False, True):
        mesh = organic()
        if opened:
            mesh = Mesh(mesh.vertices, mesh.faces[np.random.default_rng(1).random(mesh.face_count) > 0.2])
        covered = find_trapped(mesh).covered
        differs = int(np.count_nonzero(covered != brute_force(mesh)))
        benchmark.extra_info["differs_open" if opened else "differs_closed"] = differs
        print(f"\n{'open' if opened else 'closed'}: {differs} of {mesh.face_count} faces differ")
        assert differs <= 1e-5 * mesh.face_count
    benchmark.pedantic(find_trapped, args=(mesh,), rounds=1)


def test_sideways_and_regions(benchmark: Any) -> None:
    mesh = organic()
    columns, relief = Columns(mesh), relief_of(mesh, pixel_mm=float(mesh.size[:2].max()) / 1000)
    reach = find_trapped(mesh, columns)
    sideways = sideways_mm(mesh, reach, columns, relief)
    benchmark.pedantic(sideways_mm, args=(mesh, reach, columns, relief), rounds=3)
    seconds = best_s(lambda: undercut_regions(mesh, reach, sideways, columns), 2)
    benchmark.extra_info["regions_s"] = seconds
    print(f"\nregions {seconds:.2f} s")


@pytest.mark.benchmark(timer=time.process_time)
def test_setup_search(benchmark: Any) -> None:
    """One thread, so processor time is what it takes on a machine that is not shared."""
    mesh = organic()
    find_setups(mesh, draft_deg=3.0, directions=2)
    benchmark.pedantic(find_setups, args=(mesh,), kwargs={"draft_deg": 3.0}, rounds=2)
    assert benchmark.stats.stats.min < 8.0


def test_growth_to_four_million(benchmark: Any) -> None:
    small, large = organic(), organic(578)
    find_trapped(small)
    one = best_s(lambda: find_trapped(small), 3)
    benchmark.pedantic(find_trapped, args=(large,), rounds=2)
    four = benchmark.stats.stats.min
    benchmark.extra_info.update(one_million_s=one, four_million_s=four, faces=large.face_count)
    print(f"\n{small.face_count} faces {one:.2f} s, {large.face_count}: {four:.2f} s, {four / one:.1f} times")
    assert four < 8.0 * one


@numba.njit(cache=False)
def anything_above(corners, low_x, y_range, widest, points, own, slack):  # type: ignore[no-untyped-def]
    """Whether another triangle stands over each point: ray test of Moeller and Trumbore (1997), float64."""
    covered = np.zeros(len(points), np.bool_)
    for n in range(len(points)):
        x, y, z = points[n]
        for k in range(np.searchsorted(low_x, x - widest), len(corners)):
            if low_x[k] > x:
                break
            if k == own[n] or y < y_range[k, 0] or y > y_range[k, 1]:
                continue
            e1x, e1y = corners[k, 1, 0] - corners[k, 0, 0], corners[k, 1, 1] - corners[k, 0, 1]
            e2x, e2y = corners[k, 2, 0] - corners[k, 0, 0], corners[k, 2, 1] - corners[k, 0, 1]
            determinant = e1y * e2x - e1x * e2y
            if determinant == 0.0:
                continue
            tx, ty = x - corners[k, 0, 0], y - corners[k, 0, 1]
            a = (ty * e2x - tx * e2y) / determinant
            b = (tx * e1y - ty * e1x) / determinant
            if a < 0.0 or b < 0.0 or a + b > 1.0:
                continue
            rise = a * (corners[k, 1, 2] - corners[k, 0, 2]) + b * (corners[k, 2, 2] - corners[k, 0, 2])
            if corners[k, 0, 2] + rise > z + slack:
                covered[n] = True
                break
    return covered


def brute_force(mesh: Mesh) -> np.ndarray:
    corners = mesh.corners()
    low, high = corners[:, :, 0].min(axis=1), corners[:, :, 0].max(axis=1)
    order = np.argsort(low, kind="stable")
    own = np.argsort(order)
    y_range = np.stack([corners[:, :, 1].min(axis=1), corners[:, :, 1].max(axis=1)], axis=1)[order]
    slack, widest = 1e-9 * float(mesh.size.max()), float((high - low).max())
    return anything_above(corners[order], low[order], y_range, widest, mesh.centroids(), own, slack)
