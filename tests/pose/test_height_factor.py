"""Heights of a relief map multiplied before all else: as a file in which they were multiplied by hand."""

import manifold3d
import numpy as np
import pytest

from buckwright.errors import JobError
from buckwright.job import job_from
from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.reading import read_sculpt
from buckwright.output.stl import stl_bytes
from buckwright.pipeline.run import run


def looked(solid, folder, **sculpt):
    path = folder / "sculpt.stl"
    path.write_bytes(stl_bytes(from_manifold(solid), title="map"))
    tables = {"sculpt": {"file": str(path), "unit": "mm"} | sculpt, "pull": {"direction": "z"}}
    return run("look", job_from(tables | {"base": {"sink_mm": 0.0}}), None), path


@pytest.fixture(scope="module")
def hill():
    """40 mm wide, 8 mm high, on ground at z = 5."""
    return manifold3d.Manifold.cylinder(8.0, 20.0, 4.0, 24).translate((3.0, 0.0, 5.0))


def test_heights_grow_and_the_plan_stays(hill, tmp_path):
    told, path = looked(hill, tmp_path, height_factor=2.5)
    mesh, shrinkage = told.results["posed"].mesh, told.report["automatic"]["fit.shrinkage"]
    assert mesh.size * (1.0 - shrinkage) == pytest.approx([40.0, 40.0, 20.0], abs=0.01)
    assert told.report["input"]["size_mm"] == pytest.approx(mesh.size, abs=0.01)
    assert any("2.5 times those of the file" in one.words for one in told.findings)
    # the report's matrix still takes the file's own places to the buck's frame
    matrix = np.array(told.report["frame"]["matrix"])
    given = read_sculpt(path).mesh.transformed(matrix)
    assert given.bounds == pytest.approx(mesh.bounds, abs=1e-4)


def test_it_is_the_same_as_a_file_made_higher(hill, tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    one, _ = looked(hill, tmp_path / "a", height_factor=3.0)
    low = hill.translate((0.0, 0.0, -5.0)).scale((1.0, 1.0, 3.0)).translate((0.0, 0.0, 5.0))
    other, _ = looked(low, tmp_path / "b")
    assert one.results["posed"].mesh.vertices == pytest.approx(other.results["posed"].mesh.vertices, abs=1e-4)
    assert one.report["draft"]["free_share"] == pytest.approx(other.report["draft"]["free_share"], abs=1e-6)


def test_a_wanted_height_counts_after_it(hill, tmp_path):
    told, _ = looked(hill, tmp_path, height_factor=2.0, height_mm=32.0)
    mesh, shrinkage = told.results["posed"].mesh, told.report["automatic"]["fit.shrinkage"]
    assert mesh.size * (1.0 - shrinkage) == pytest.approx([80.0, 80.0, 32.0], abs=0.02)


def test_no_height_is_no_relief():
    with pytest.raises(JobError, match="height_factor"):
        job_from({"sculpt": {"file": "a.stl", "height_factor": 0.0}})
