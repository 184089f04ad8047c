"""Reading and checking a sculpt of a million faces, mending a broken one, remeshing a hopeless one.

Ratios are taken in one run against trimesh (reading), manifold3d's own constructor (checking) and, where
`bpy` is installed, Blender's voxel remesh. Run with `pytest benchmarks/bench_door.py -s`.
"""

import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from buckwright.mesh.door import enter
from buckwright.mesh.reading import read_sculpt
from buckwright.mesh.remesh import remesh
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_solid

VOXEL = 0.8


@cache
def ball(side: int, radius: float = 100.0, seed: int = 0) -> Mesh:
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
    unit = np.concatenate(points)[kept]
    unit /= np.linalg.norm(unit, axis=1)[:, None]
    rng = np.random.default_rng(seed)
    swell = np.ones(len(unit))
    for k in range(30):
        swell += (
            0.3 / (2 + k) * np.sin(unit @ (rng.normal(size=3) * (2.0 + 0.5 * k)) + rng.uniform(0.0, 6.28))
        )
    return Mesh.from_arrays(radius * unit * swell[:, None], renamed.reshape(-1)[np.concatenate(faces)])


@cache
def shells_of_a_kitbash(count: int = 24, side: int = 60) -> Mesh:
    """Overlapping closed shells, as sculptors push bodies into each other; a few are inside out."""
    rng = np.random.default_rng(7)
    points, faces, start = [], [], 0
    for n in range(count):
        one = ball(side, radius=28.0, seed=n)
        points.append(one.vertices + rng.normal(0.0, 22.0, 3))
        faces.append((one.faces[:, ::-1] if n % 8 == 3 else one.faces) + start)
        start += one.vertex_count
    return Mesh.from_arrays(np.concatenate(points), np.concatenate(faces))


def best_s(work: Callable[[], Any], rounds: int = 3) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def test_read_a_million_faces(benchmark: Any, tmp_path: Path) -> None:
    path = tmp_path / "ball.stl"
    mesh = ball(289)
    path.write_bytes(
        trimesh.exchange.stl.export_stl(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False))
    )
    sculpt = benchmark.pedantic(read_sculpt, args=(path,), rounds=3)
    assert sculpt.mesh.face_count == mesh.face_count
    assert sculpt.mesh.vertex_count == mesh.vertex_count
    theirs = best_s(lambda: trimesh.load(path))
    print(f"\nread {benchmark.stats.stats.min:.2f} s, trimesh {theirs:.2f} s")


def test_check_a_sound_million(benchmark: Any) -> None:
    """Everything is asked: numbers, edges, direction, shells, holes, crossings."""
    mesh = ball(289)
    enter(ball(20))
    entered = benchmark.pedantic(enter, args=(mesh,), rounds=3)
    assert entered.solid
    assert entered.mesh is mesh
    assert not entered.repairs
    ours, theirs = benchmark.stats.stats.min, best_s(lambda: as_solid(mesh))
    print(f"\nenter {ours:.2f} s, manifold3d's constructor alone {theirs:.2f} s: {ours / theirs:.1f} times")


def test_growth_of_the_check(benchmark: Any) -> None:
    one, four = ball(289), ball(578)
    enter(ball(20))
    small = best_s(lambda: enter(one), 2)
    benchmark.pedantic(enter, args=(four,), rounds=1)
    large = benchmark.stats.stats.min
    print(
        f"\n{one.face_count} faces {small:.1f} s, {four.face_count}: {large:.1f} s, {large / small:.1f} times"
    )
    assert large < 8.0 * small


def test_mend_overlapping_shells(benchmark: Any) -> None:
    mesh = shells_of_a_kitbash()
    entered = benchmark.pedantic(enter, args=(mesh,), rounds=1, warmup_rounds=1)
    assert entered.solid
    steps = ", ".join(repair.method for repair in entered.repairs)
    print(f"\n{mesh.face_count} faces in shells: {benchmark.stats.stats.min:.1f} s ({steps})")


def blenders(bpy: Any, mesh: Mesh) -> tuple[float, int]:
    """Seconds and polygons of Blender's voxel remesh."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    data = bpy.data.meshes.new("sculpt")
    data.from_pydata(mesh.vertices, [], mesh.faces)
    body = bpy.data.objects.new("sculpt", data)
    bpy.context.collection.objects.link(body)
    bpy.context.view_layer.objects.active = body
    body.select_set(True)
    data.remesh_voxel_size = VOXEL
    start = time.perf_counter()
    bpy.ops.object.voxel_remesh()
    return time.perf_counter() - start, len(data.polygons)


def test_remesh(benchmark: Any) -> None:
    mesh = ball(145)
    remesh(ball(20), voxel_mm=8.0)
    made = benchmark.pedantic(remesh, args=(mesh,), kwargs={"voxel_mm": VOXEL}, rounds=2)
    assert made.mesh.volume_mm3() == pytest.approx(mesh.volume_mm3(), rel=2e-3)
    ours = benchmark.stats.stats.min
    print(f"\nremesh of {mesh.face_count} faces at {VOXEL} mm: {ours:.2f} s, {made.mesh.face_count} faces")
    bpy = pytest.importorskip("bpy", reason="Blender as a module is not installed")
    theirs, quads = blenders(bpy, mesh)
    assert quads > 10_000
    print(f"Blender's voxel remesh: {theirs:.2f} s, {quads} quads; it does not measure how far it moved")
