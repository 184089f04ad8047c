"""The sample scenes as files of Blender: made by their script, opened, looked at."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from buckwright.job import read_job

SAMPLES = Path(__file__).resolve().parents[2] / "sample_scenes"


@pytest.fixture(scope="module")
def blends():
    """The script, with its folder on the path."""
    sys.path.insert(0, str(SAMPLES))
    spec = importlib.util.spec_from_file_location("make_blends", SAMPLES / "make_blends.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    yield module
    sys.path.remove(str(SAMPLES))


@pytest.mark.parametrize("name", ["canopy", "river_terrain"])  # inches, and an open surface
def test_a_sample_scene_opens_with_its_job_and_can_be_looked_at(addon, scene, blends, tmp_path, name):
    import bpy

    blends.make(name, coarse=6.0, into=tmp_path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / name / f"{name}.blend"))
    scene = bpy.context.scene
    job = read_job(SAMPLES / name / "job.toml")
    assert scene.buckwright.sheet.thickness_mm == pytest.approx(job.sheet.thickness_mm)
    assert scene.buckwright.base.style.lower() == job.base.style
    one = bpy.context.view_layer.objects.active
    size = np.ptp([corner[:] for corner in one.bound_box], axis=0) * 1000.0
    scene.buckwright.pull.direction = "Z"
    assert bpy.ops.buckwright.look() == {"FINISHED"}
    words = addon.scene.results.facts(scene)["lines"][0]
    told = [float(part) for part in words.removeprefix("Sculpt ").split(" mm")[0].split(" x ")]
    assert told[:2] == pytest.approx(size[:2], rel=0.02)  # with the allowance for shrinkage


def test_the_script_names_what_it_does_not_know(blends, capsys):
    with pytest.raises(SystemExit):
        blends.main(["no_such_scene"])
    assert "heron_mask" in capsys.readouterr().err
