"""From the button to the results in the scene at a million faces: everything but the library's own work.

Against Blender's own STL export of the same mesh, in the same run. Needs `bpy`.
Run with `pytest benchmarks/bench_blender_road.py -s`.
"""

import importlib.util
import os
import sys
import tempfile
import time
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

# Blender reads it once, when it is imported.
PROFILE = tempfile.TemporaryDirectory(prefix="buckwright-profile-")
os.environ["BLENDER_USER_RESOURCES"] = PROFILE.name
bpy = pytest.importorskip("bpy", reason="Blender as a module is not installed")
PACKAGE = Path(__file__).resolve().parents[1] / "blender_addon" / "package.py"
MODULE = "bl_ext.user_default.buckwright"


@pytest.fixture(scope="module")
def addon(tmp_path_factory: pytest.TempPathFactory) -> ModuleType:
    """The extension from a zip without wheels; the child takes what this environment has."""
    spec = importlib.util.spec_from_file_location("package", PACKAGE)
    assert spec is not None and spec.loader is not None
    package = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(package)
    here = {"linux": "linux-x64", "win32": "windows-x64", "darwin": "macos-arm64"}[sys.platform]
    made = package.build(here, ["3.13"], tmp_path_factory.mktemp("zip"), wheels=False)
    bpy.ops.extensions.package_install_files(filepath=str(made), repo="user_default", enable_on_install=True)
    return sys.modules[MODULE]


def sculpt(addon: ModuleType) -> Any:
    """A ball of a million triangles with shallow waves, 100 mm wide."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    rings, sides = 500, 1000
    down = np.pi * np.arange(1, rings + 1)[:, None] / (rings + 1)
    round_ = 2.0 * np.pi * np.arange(sides)[None] / sides
    shell = np.stack(
        [np.sin(down) * np.cos(round_), np.sin(down) * np.sin(round_), np.cos(down) + 0.0 * round_], axis=-1
    )
    places = 0.05 * np.concatenate([shell.reshape(-1, 3), [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]])
    places *= 1.0 + 0.03 * np.sin(300.0 * places[:, :1]) * np.sin(250.0 * places[:, 1:2])
    at = np.arange(rings * sides).reshape(rings, sides)
    a, b, c, d = at[:-1], at[1:], np.roll(at, -1, axis=1)[:-1], np.roll(at, -1, axis=1)[1:]
    top, bottom = np.full(sides, rings * sides), np.full(sides, rings * sides + 1)
    parts = [
        np.stack([a, b, d], axis=-1).reshape(-1, 3),
        np.stack([a, d, c], axis=-1).reshape(-1, 3),
        np.stack([top, at[0], np.roll(at[0], -1)], axis=-1),
        np.stack([bottom, np.roll(at[-1], -1), at[-1]], axis=-1),
    ]
    mesh = bpy.data.meshes.new("Ball")
    addon.scene.result_objects.write_mesh(mesh, places, np.concatenate(parts))  # type: ignore[attr-defined]
    one = bpy.data.objects.new("Ball", mesh)
    bpy.context.collection.objects.link(one)
    one.select_set(True)
    return one


def test_the_road_of_a_million_faces(benchmark: Any, addon: ModuleType, tmp_path: Path) -> None:
    one = sculpt(addon)
    assert len(one.data.polygons) == 1_000_000
    scene = bpy.context.scene
    scene.buckwright.pull.direction = "Z"
    told: list[dict[str, float]] = []

    def run() -> None:
        work = addon.scene.running.Work(bpy.context, "look")  # type: ignore[attr-defined]
        asked = time.perf_counter()
        while not work.poll() and work.step in ("Taking the sculpt", "Starting"):
            time.sleep(0.005)
        first = time.perf_counter() - asked
        while not work.poll():
            time.sleep(0.02)
        result = work.result(bpy.context)
        begun = time.perf_counter()
        addon.scene.write_results.write(scene, result)  # type: ignore[attr-defined]
        work.close()
        told.append(result.times_s | {"child": first, "write back": time.perf_counter() - begun})

    benchmark.pedantic(run, rounds=3, warmup_rounds=1)
    parts = ("snapshot", "start", "child", "compare", "read", "write back")
    best = min(told[1:], key=lambda times: sum(times[part] for part in parts))
    begun = time.perf_counter()
    bpy.ops.wm.stl_export(filepath=str(tmp_path / "sculpt.stl"))
    export = time.perf_counter() - begun
    total = sum(best[part] for part in parts)
    listed = ", ".join(f"{part} {best[part]:.2f}" for part in parts)
    print(f"\neverything but the library's work {total:.2f} s ({listed}), {total / export:.1f} STL exports")
