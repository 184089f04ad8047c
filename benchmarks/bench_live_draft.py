"""Draft alone of a million faces in Blender, from the mesh to colours on the graphics card.

Against trimesh's face normals alone, of the same triangles in the same run. Needs `bpy`.
Run with `pytest benchmarks/bench_live_draft.py -s`.
"""

import importlib
import importlib.util
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import trimesh

bpy = pytest.importorskip("bpy", reason="Blender as a module is not installed")
ADDON = Path(__file__).resolve().parents[1] / "blender_addon"


@pytest.fixture(scope="module")
def addon(tmp_path_factory: pytest.TempPathFactory) -> ModuleType:
    """The extension's package as it goes into the zip, without wheels, registered."""
    spec = importlib.util.spec_from_file_location("package", ADDON / "package.py")
    assert spec is not None and spec.loader is not None
    package = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(package)
    folder = tmp_path_factory.mktemp("extension")
    package.stage(folder / "buckwright_bench", "linux-x64", [])
    sys.path.insert(0, str(folder))
    module = importlib.import_module("buckwright_bench")
    module.register()
    return module


def monkey() -> Any:
    """Suzanne with five rounds of subdivision: 503,808 quads, half of them leaning under."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.mesh.primitive_monkey_add()
    bpy.context.object.modifiers.new("smooth", "SUBSURF").levels = 5
    bpy.ops.object.modifier_apply(modifier="smooth")
    return bpy.context.object


def best_s(work: Callable[[], object], rounds: int = 5) -> float:
    """Fastest of some runs."""
    times = []
    for _ in range(rounds):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)


def test_live_draft_of_a_million_faces(benchmark: Any, addon: ModuleType) -> None:
    name = addon.__name__
    live, overlay, ramps = (
        importlib.import_module(f"{name}.{one}") for one in ("view.live_draft", "view.overlay", "view.ramps")
    )
    gpu: Any = importlib.import_module("gpu")
    gpu.init()
    obj = monkey()

    def measure() -> Any:
        """As in the window: there the last step happens by itself, in the background it is asked for."""
        one = live.measure(bpy.context, obj)
        quantity = ramps.QUANTITIES["DRAFT"]
        colours = ramps.colours(
            quantity, one.values["draft_deg"], lowest=one.lowest, highest=one.highest, shade=one.shade
        )
        overlay.upload(one, colours)
        return one

    shown = benchmark.pedantic(measure, rounds=5, warmup_rounds=1)
    faces, vertices = shown.faces.faces, shown.faces.vertices.astype(np.float64)
    assert len(faces) == 1_007_616

    def lines() -> None:
        """Hatching and outlines, which the window adds once the colours are on the screen."""
        shown.marked = False
        overlay.mark(shown)

    lines_s = best_s(lines)
    assert shown.lines

    def theirs() -> Any:
        return trimesh.Trimesh(vertices, faces, process=False, validate=False).face_normals

    ours, other = benchmark.stats.stats.min, best_s(theirs)
    print(f"\n{len(faces)} faces: {ours:.3f} s, lines {lines_s:.3f} s later")
    print(f"trimesh's normals alone {other:.3f} s: {ours / other:.2f} times")
    angle = np.degrees(np.arcsin(np.clip(theirs()[:, 2], -1.0, 1.0)))
    # Quads that are not flat have one normal in Blender and two in trimesh.
    assert np.median(np.abs(angle - shown.values["draft_deg"])) < 0.1
