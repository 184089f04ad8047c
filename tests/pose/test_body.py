"""A body in the job: placed as the sculpt is, what grows for it, where the part ends for it."""

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from scipy.spatial.transform import Rotation

import buckwright as bw
from buckwright.clock import Clock
from buckwright.errors import InputError, JobError, MeshError
from buckwright.mesh.gaps import gaps_to
from buckwright.mesh.triangles import Mesh
from buckwright.pose.body.growing import grow
from buckwright.pose.body.placing import place_body
from buckwright.pose.body.settings import BodySettings
from buckwright.shape.solid import as_mesh

QUIET = {
    "fill": {"mode": "none"},
    "forecast": {"quality": "off"},
    "vents": {"enabled": False},
    "underside": {"engrave": False, "fixing": "none"},
    "fit": {"shrinkage": 0.0},
}


def ball(radius, *, at=(0.0, 0.0, 0.0), fine=4):
    made = trimesh.creation.icosphere(subdivisions=fine, radius=radius)
    return Mesh.from_arrays(made.vertices + np.array(at), made.faces)


def saved(mesh, path):
    trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(path)
    return path.name


def job(folder, sculpt, inner, **tables):
    names = {"sculpt": {"file": saved(sculpt, folder / "sculpt.stl"), "unit": "mm"}}
    names["body"] = {"file": saved(inner, folder / "body.stl")} | tables.pop("body", {})
    return bw.Job(folder=folder, pull={"direction": "z"}, **(QUIET | names | tables))


def no_tick(_share):
    pass


@pytest.mark.parametrize("all_round", [True, False])
def test_a_ball_grows_to_its_clearance_exactly(all_round):
    shape, inner = ball(50.0), ball(46.0)
    grown = grow(shape, inner, 6.0, all_round=all_round, still=np.zeros(shape.face_count, bool), tick=no_tick)
    assert grown.before_mm == pytest.approx(4.0, abs=0.12)
    assert grown.after_mm == pytest.approx(6.0, abs=0.021)
    assert np.linalg.norm(grown.offset.mesh.vertices, axis=1) == pytest.approx(52.0, abs=0.2)


def test_where_it_is_short_only_that_grows_and_it_fades():
    """A body that comes near at the top: the top rises, the equator stays."""
    shape, inner = ball(50.0), ball(20.0, at=(0.0, 0.0, 29.0))
    still = np.zeros(shape.face_count, bool)
    grown = grow(shape, inner, 4.0, all_round=False, still=still, tick=no_tick)
    moved = np.linalg.norm(grown.offset.mesh.vertices - shape.vertices, axis=1)
    high = shape.vertices[:, 2] > 49.0
    assert grown.after_mm == pytest.approx(4.0, abs=0.03)
    assert moved[high].min() > 2.3 and moved.max() < 3.5 and moved[shape.vertices[:, 2] < 20.0].max() == 0.0
    assert 0.0 < grown.share < 0.5
    sides = shape.vertices[shape.faces] - shape.vertices[np.roll(shape.faces, -1, axis=1)]
    step = np.abs(moved[shape.faces] - moved[np.roll(shape.faces, -1, axis=1)])
    assert (step <= 0.6 * np.linalg.norm(sides, axis=2)).all()


def test_growing_follows_any_turn():
    shape, inner = ball(50.0, fine=3), ball(47.0, fine=3, at=(1.0, 0.0, 0.0))
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_euler("xyz", (20.0, 70.0, -40.0), degrees=True).as_matrix()
    matrix[:3, 3] = (100.0, -30.0, 5.0)
    still = np.zeros(shape.face_count, bool)
    one = grow(shape, inner, 4.0, all_round=False, still=still, tick=no_tick)
    other = grow(
        shape.transformed(matrix), inner.transformed(matrix), 4.0, all_round=False, still=still, tick=no_tick
    )
    assert one.offset.mesh.transformed(matrix).vertices == pytest.approx(other.offset.mesh.vertices, abs=1e-6)


def test_a_buck_is_grown_and_the_sculpt_is_not(tmp_path):
    """Pulled slantwise the balls are the same; the buck keeps 5 mm and 1 mm of padding over the inner one."""
    given = job(
        tmp_path,
        ball(50.0),
        ball(46.0),
        body={"clearance_mm": 5.0, "padding_mm": 1.0, "grow": "all"},
        base={"sink_mm": 50.0},
    ).evolved(pull={"direction": (0.3, 0.2, 0.9)}, fit={"shrinkage": 0.05})
    before = (tmp_path / "sculpt.stl").read_bytes()
    made = bw.make(given)
    told = made.report["clearance"]
    assert told["least_mm"] == pytest.approx(5.0, abs=0.05)
    assert told["grown"]["after_mm"] == pytest.approx(6.0 / 0.95, abs=0.05)
    assert (tmp_path / "sculpt.stl").read_bytes() == before
    assert "grown-to-clearance" in {one.slug for one in made.findings}
    seen = made.faces.clearance_mm
    assert np.isfinite(seen).sum() > 0.3 * len(seen)
    assert np.nanmax(np.abs(seen - 5.0)) < 0.2


@pytest.mark.parametrize(
    ("tables", "least", "where"),
    [
        ({}, 5.25, "inside"),  # 50 less 44, and the sheet lies between
        ({"fit": {"controlled_side": "inside"}}, 6.0, "inside"),  # the cavity is larger by the sheet
        ({"body": {"grow": "all", "clearance_mm": 8.0}}, 8.0, "inside"),
        ({"body": {"side": "outside"}}, 10.0, "outside"),  # 60 less 50: the sheet lies beyond
    ],
    ids=["plain", "inside-to-size", "grown", "around"],
)
def test_in_a_female_mould_the_other_side_of_the_sheet_counts(tmp_path, tables, least, where):
    """A ball of 50 mm over one of 44 mm, or in a sleeve of 60 mm; the lower half goes below."""
    sleeve = Manifold.cylinder(160.0, 70.0, 70.0, 96, True) - Manifold.cylinder(160.0, 60.0, 60.0, 96, True)
    body = ball(44.0) if where == "inside" else as_mesh(sleeve)
    made = bw.make(
        job(
            tmp_path,
            ball(50.0),
            body,
            mould={"form": "female"},
            base={"sink_mm": "widest"},
            **{"fit": QUIET["fit"] | {"formed_thickness_mm": 0.75} | tables.get("fit", {})},
            **({"body": tables["body"]} if "body" in tables else {}),
        )
    )
    told = made.report["clearance"]
    assert told["side"] == where
    assert told["least_mm"] == pytest.approx(least, abs=0.15)
    cleared = made.results["cleared"]
    low, high = cleared.surface.bounds
    plan = made.results["blank"].plan
    assert plan.over and high[2] <= plan.trim_z_mm + 3.0  # in the cavity, and not on the walls of the block
    assert np.hypot(*cleared.surface.vertices[:, :2].T).max() < 53.0
    # the nearest place lies in the cavity, where the part is, told in the frame of the mould
    assert low[2] - 1.0 <= told["least_at_mm"][2] <= high[2] + 1.0
    assert dict(made.summary.answers)["Clears"].startswith("yes")


def test_the_part_ends_where_the_body_is_widest(tmp_path):
    """A body whose widest outline lies 12 mm over the sculpt's lowest point, and one that is widest below."""
    shape = ball(50.0, fine=3)
    high = job(tmp_path, shape, ball(20.0, at=(0.0, 0.0, -38.0)), body={"foot": "widest"})
    assert bw.look(high).report["pull"]["sink_mm"] == pytest.approx(12.0, abs=0.2)
    low = job(tmp_path, shape, ball(20.0, at=(0.0, 0.0, -60.0)), body={"foot": "widest"})
    assert bw.look(low).report["pull"]["sink_mm"] == 0.0


def test_the_body_has_the_sculpts_unit_unless_it_has_its_own(tmp_path):
    name = tmp_path / "body.stl"
    saved(ball(2.0, fine=2), name)
    settings = BodySettings(file=str(name))
    assert place_body(settings, 10.0, Clock()).mesh.size == pytest.approx(3 * [40.0], rel=1e-6)
    inches = BodySettings(file=str(name), unit="in")
    assert place_body(inches, 10.0, Clock()).mesh.size == pytest.approx(3 * [4.0 * 25.4], rel=1e-6)


def test_what_cannot_be_is_refused(tmp_path):
    shape = ball(50.0, fine=2)
    around = job(tmp_path, shape, ball(60.0), body={"grow": "all", "side": "outside"})
    with pytest.raises(InputError, match=r"body\.grow"):
        bw.look(around)
    with pytest.raises(JobError, match=r"\[body\] file: there is no file"):
        bw.look(around.evolved(body={"file": "nowhere.stl"}))
    (tmp_path / "flat.stl").write_text("solid flat\nendsolid flat\n", encoding="utf-8")
    with pytest.raises(MeshError, match="the body cannot be used"):
        bw.look(around.evolved(body={"file": "flat.stl", "side": "inside"}))


def test_what_lies_inside_and_outside_of_a_body_has_its_sign():
    points = np.array([[0.0, 0.0, 12.0], [0.0, 0.0, 7.0], [0.0, 0.0, 300.0]])
    gaps = gaps_to(points, ball(10.0, fine=5), most_mm=50.0)
    assert gaps[:2] == pytest.approx([2.0, -3.0], abs=0.01)
    assert gaps[2] > 50.0
