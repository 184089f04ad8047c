"""A sculpt scaled to a named measurement, and the slice to try on."""

import json

import ezdxf
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from buckwright.errors import BuckwrightError
from buckwright.job import Job
from buckwright.mesh.triangles import Mesh
from buckwright.output.stl import stl_bytes
from buckwright.pipeline.run import run
from buckwright.pose.size.findings import SCALED
from buckwright.pose.size.measuring import measured_mm
from buckwright.pose.size.settings import SizeSettings

SIDES = 64


def drum(radius=30.0, high=80.0, star=False):
    """A cylinder; as a star its every other edge stands half as far out, which a tape spans."""
    made = trimesh.creation.cylinder(radius, high, sections=SIDES)
    if star:
        turn = np.arctan2(made.vertices[:, 1], made.vertices[:, 0])
        notch = np.isclose(np.round(turn / (2 * np.pi / SIDES)) % 8, 4.0)
        made.vertices[notch, :2] *= 0.9
    return Mesh.from_arrays(made.vertices, made.faces)


def test_a_drum_measures_what_it_must():
    girth = SizeSettings(measure="girth")
    polygon = 2 * SIDES * np.sin(np.pi / SIDES) * 30.0  # circumference of a regular polygon in a circle
    assert measured_mm(drum(), girth) == pytest.approx(polygon, rel=1e-9)
    assert measured_mm(drum(star=True), girth) == pytest.approx(polygon, rel=1e-3)
    assert measured_mm(drum(), SizeSettings(measure="width")) == pytest.approx(60.0, rel=1e-4)
    assert measured_mm(drum(), SizeSettings(measure="width", along="x", side="z")) == pytest.approx(80.0)
    two = SizeSettings(measure="distance", between_mm=((0.0, 0.0, 0.0), (3.0, 4.0, 12.0)))
    assert measured_mm(drum(), two) == pytest.approx(13.0)


def test_a_cone_is_measured_at_its_level():
    cone = trimesh.creation.cone(30.0, 80.0, sections=SIDES)
    mesh = Mesh.from_arrays(cone.vertices, cone.faces)
    at = SizeSettings(measure="width", level_share=0.25)
    assert measured_mm(mesh, at) == pytest.approx(45.0, rel=1e-3)  # 60 mm less a quarter
    # an open sculpt is measured as well
    assert measured_mm(mesh.submesh(mesh.centroids()[:, 2] > 0.0), at) == pytest.approx(45.0, rel=1e-3)


@settings(max_examples=20)
@given(factor=st.floats(0.1, 20.0), share=st.floats(0.05, 0.95))
def test_measurements_scale_with_the_sculpt(factor, share):
    for measure in ("width", "girth"):
        asked = SizeSettings(measure=measure, level_share=share)
        larger = Mesh(drum().vertices * factor, drum().faces)
        assert measured_mm(larger, asked) == pytest.approx(factor * measured_mm(drum(), asked), rel=1e-9)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("drum")
    (made / "drum.stl").write_bytes(stl_bytes(drum(), title="drum"))
    return made


def job_of(folder, size, **sculpt):
    quiet = {"vents": {"enabled": False}, "forecast": {"quality": "off"}, "pull": {"direction": "z"}}
    return Job(folder=folder, sculpt={"file": "drum.stl", **sculpt}, size=size, **quiet)


def test_the_part_has_the_girth_that_is_wanted_and_a_ring_fits_it(folder):
    wanted = 560.0
    size = {"measure": "girth", "wanted_mm": wanted, "slice": "ring", "slice_mm": 6.0, "wall_mm": 3.0}
    outcome = run("make", job_of(folder, size), folder / "out", pictures=False)
    report = json.loads((folder / "out" / "report.json").read_text(encoding="utf-8"))
    assert report["size"]["measured_mm"] == pytest.approx(wanted, rel=1e-6)
    assert report["size"]["factor"] == pytest.approx(
        wanted / (2 * SIDES * np.sin(np.pi / SIDES) * 30.0), rel=1e-6
    )
    shrinkage = report["automatic"]["fit.shrinkage"]
    across = outcome.results["posed"].mesh.size[0]
    # the buck allows for shrinkage, so that the part has the girth: polygon in a circle
    assert across * (1 - shrinkage) * SIDES * np.sin(np.pi / SIDES) == pytest.approx(wanted, rel=1e-4)
    assert SCALED.slug in {finding.slug for finding in outcome.findings}
    ring = trimesh.load(folder / "out" / "try_on_ring.stl")
    assert ring.is_watertight
    radius = wanted / (2 * SIDES * np.sin(np.pi / SIDES))
    assert ring.extents == pytest.approx([2 * radius + 6.0, 2 * radius + 6.0, 6.0], rel=1e-3)
    nearest = np.hypot(*ring.vertices[:, :2].T).min()
    assert radius * np.cos(np.pi / SIDES) - 0.01 < nearest < radius + 0.01
    drawing = ezdxf.readfile(folder / "out" / "try_on.dxf")
    lines = [one for one in drawing.modelspace() if one.dxf.layer == "cut" and one.closed]
    around = sum(
        float(np.linalg.norm(np.diff(closed, axis=0), axis=1).sum())
        for one in lines
        for closed in [np.array([*one.get_points("xy"), one.get_points("xy")[0]])]
    )
    assert around == pytest.approx(wanted, abs=0.01)
    assert not [*drawing.audit().errors]


def test_nothing_is_told_where_nothing_is_measured(folder):
    outcome = run("make", job_of(folder, {}), None, pictures=False)
    assert "size" not in outcome.report


@pytest.mark.parametrize(
    ("size", "sculpt", "words"),
    [
        ({"measure": "width", "wanted_mm": 80.0}, {"height_mm": 100.0}, "to a size and to a measurement"),
        ({"measure": "distance", "wanted_mm": 80.0}, {}, "between two points"),
        ({"measure": "distance", "wanted_mm": 80.0, "between_mm": [[0, 0, 1], [0, 0, 1]]}, {}, "are one"),
        ({"measure": "width", "wanted_mm": 80.0, "side": "z"}, {}, "does not lie in a section"),
    ],
)
def test_what_cannot_be_measured_is_told(folder, size, sculpt, words):
    with pytest.raises(BuckwrightError, match=words):
        run("look", job_of(folder, size, **sculpt), None, pictures=False)
