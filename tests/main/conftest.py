"""Small sculpts for runs of the whole road, and what every such test needs to make one."""

import importlib
import re
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from buckwright.findings import Finding
from buckwright.job import job_from
from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.run import run as run_command
from buckwright.shape.solid import as_mesh
from buckwright.stages import all_settings, finding_kinds

SYNTAX = re.compile(r"--[a-z]|\[[a-z]+\]|_(mm|deg|kpa)\b")
SCENES = Path(__file__).resolve().parents[2] / "sample_scenes"


def _ball(radius, at, sides=48):
    return Manifold.sphere(radius, sides).translate(at)


def idol():
    """A squat head with a beak over open ground, eye bowls and a nostril under the beak; foot on z = 0."""
    body = Manifold.cylinder(22, 26, 19, 96) + _ball(19.6, (0, 0, 18.0), 72)
    beak = Manifold.batch_hull([_ball(4.0, (0, -14, 27), 32), _ball(2.0, (0, -33, 22), 32)])
    eyes = _ball(4.5, (9, -8, 36.5), 40) + _ball(4.5, (-9, -8, 36.5), 40)
    return body.trim_by_plane((0, 0, 1), 0) + beak - eyes - _ball(1.2, (1.6, -26, 21.5), 24)


def mushroom():
    """A cap of 20 mm radius on a stem of 8 mm: the sheet locks under it all round."""
    return Manifold.cylinder(16, 8, 8, 64) + _ball(20, (0, 0, 14), 64).trim_by_plane((0, 0, 1), 14)


def cone(draft_deg=10.0, height=20.0, radius=20.0, sides=128):
    """A frustum whose wall has the given draft (its facets touch the true cone from inside)."""
    return Manifold.cylinder(height, radius, radius - height * np.tan(np.radians(draft_deg)), sides)


SHAPES = {
    "idol": idol,
    "mushroom": mushroom,
    "cone": cone,
    "tight_cone": lambda: cone(1.5),
    "ball": lambda: _ball(20, (0, 0, 20), 96),
    "box": lambda: Manifold.cube((40, 30, 20)).translate((-20, -15, 0)),
}


@pytest.fixture(scope="session", autouse=True)
def findings_are_declared():
    """Every finding that any run raises is of a declared kind and speaks neither of flags nor of keys."""
    with pytest.MonkeyPatch.context() as patch:
        checked = Finding.__post_init__

        def check(finding):
            checked(finding)
            assert finding.slug in finding_kinds(), finding
            assert finding.setting in {"", *all_settings()}, finding
            assert not SYNTAX.search(finding.words) and not SYNTAX.search(finding.advice), finding

        patch.setattr(Finding, "__post_init__", check)
        yield


@pytest.fixture(scope="session")
def shape():
    """Maker of sculpts by name: mesh in mm."""
    return lambda name: as_mesh(SHAPES[name]())


@pytest.fixture(scope="session")
def sculpt_file(tmp_path_factory, shape):
    """Maker of sculpt files: name of a shape (or a mesh), scale, file name -> path."""

    def write(what, *, scale=1.0, name="sculpt.stl", matrix=None):
        mesh = shape(what) if isinstance(what, str) else what
        mesh = mesh if matrix is None else mesh.transformed(matrix)
        path = tmp_path_factory.mktemp("sculpt") / name
        trimesh.Trimesh(mesh.vertices * scale, mesh.faces, process=False).export(path)
        return path

    return write


@pytest.fixture(scope="session")
def job_of(sculpt_file):
    """Maker of jobs: a shape's name or a path, then tables.

    Along z and whole unless it is said otherwise; forecast, on few nodes, where settings of that are given.
    """

    def job(what, **tables):
        path = what if isinstance(what, Path) else sculpt_file(what)
        raw = {"sculpt": {"file": str(path)}, "pull": {"direction": "z"}, "base": {"sink_mm": 0.0}}
        raw["forecast"] = {"nodes": 2000} if "forecast" in tables else {"quality": "off"}
        for table, values in tables.items():
            raw.setdefault(table, {}).update(values)
        return job_from(raw)

    return job


@pytest.fixture(scope="session")
def run(tmp_path_factory, job_of):
    """Maker of bucks without pictures: (outcome, folder)."""

    def buck(what, **tables):
        folder = tmp_path_factory.mktemp("out")
        return run_command("make", job_of(what, **tables), folder, pictures=False), folder

    return buck


@pytest.fixture(scope="session")
def read_back():
    """Reader of a written STL by trimesh, equal corners welded: Mesh in float64."""

    def read(path):
        mesh = trimesh.load_mesh(path, process=False)
        points, index = np.unique(np.asarray(mesh.vertices), axis=0, return_inverse=True)
        return Mesh.from_arrays(points, index.reshape(-1)[np.asarray(mesh.faces)])

    return read


@pytest.fixture(scope="session")
def rough_sample(tmp_path_factory):
    """Maker of rough sample sculpts with a job file beside each: name, coarseness -> job path.

    Coarseness None takes the sculpt that is there.
    """
    folder = tmp_path_factory.mktemp("samples")

    def sample(name, coarse=3.0):
        if coarse is not None:
            sys.path.insert(0, str(SCENES))
            try:
                importlib.import_module("make_samples").make(name, coarse=coarse, into=folder)
            finally:
                sys.path.remove(str(SCENES))
        target = folder / name / "job.toml"
        target.write_bytes((SCENES / name / "job.toml").read_bytes())
        return target

    return sample
