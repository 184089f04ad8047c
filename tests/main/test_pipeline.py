"""The one road from a job to its files, on small sculpts, judged from what was written."""

import itertools
import json
import math
from functools import partial

import manifold3d
import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from buckwright.clock import COMPILING
from buckwright.errors import Cancelled
from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.run import run as run_command
from buckwright.relief.columns import Columns
from buckwright.stages import all_settings, finding_kinds

look = partial(run_command, "look")
make = partial(run_command, "make")

NO_AIR = {"vents": {"enabled": False}, "underside": {"engrave": False}}
REPORT_KEYS = (
    "input frame pull draft undercuts fill heating base detail pockets forecast venting vents evacuation_s "
    "underside buck drainage release print strength rig cutting edge templates automatic findings timing_s "
    "command files version job_sheet"
)
LOOK_KEYS = "input frame pull draft undercuts proposal automatic findings timing_s command files version"


@pytest.fixture(scope="module")
def steps():
    """Progress of the run below: (step, share) in order."""
    return []


@pytest.fixture(scope="module")
def idol(job_of, tmp_path_factory, steps):
    """The idol with all defaults: (outcome, folder, job)."""
    job = job_of("idol", job={"name": "Idol", "number": "7"}, forecast={})
    folder = tmp_path_factory.mktemp("idol")
    return make(job, folder, progress=lambda *step: steps.append(step), pictures=False), folder, job


@pytest.fixture(scope="module")
def idol_buck(idol, read_back):
    return read_back(idol[1] / "buck.stl")


@pytest.fixture(scope="module")
def bare_idol(run):
    """The idol without vents or pictures: only filled and set on a base."""
    return run("idol", **NO_AIR)


def _matrix(outcome):
    return np.array(outcome.report["frame"]["matrix"])


def _placed(mesh, outcome):
    return mesh.transformed(_matrix(outcome))


def _solid(mesh):
    return manifold3d.Manifold(manifold3d.Mesh64(mesh.vertices, mesh.faces.astype(np.uint64)))


def _free_faces(mesh, columns, draft_deg):
    """By the definition: normal above the wall by the draft, and nothing above centre or corners."""
    normal = mesh.area_vectors()
    length = np.maximum(np.linalg.norm(normal, axis=1), 1e-30)
    lean = np.degrees(np.arcsin(np.clip(normal[:, 2] / length, -1, 1)))
    points = np.concatenate([mesh.centroids()[None], np.moveaxis(mesh.corners(), 1, 0)])
    open_ = [~np.isfinite(columns.above(p + np.array([0, 0, 1e-6]))) for p in points]
    return (lean >= draft_deg) & np.all(open_, axis=0)


# --- the report


def test_report_has_exactly_the_fixed_keys(idol):
    outcome, folder, _ = idol
    report = json.loads((folder / "report.json").read_text(encoding="utf-8"), parse_constant=pytest.fail)
    assert report == outcome.report
    assert list(report) == REPORT_KEYS.split()
    assert {"faces", "vertices", "size_mm", "repairs"} <= set(report["input"])
    assert np.shape(report["frame"]["matrix"]) == (4, 4)
    pull = {"direction", "sink_mm", "cut_volume_mm3", "widest_mm", "widest_cuts_share"}
    assert pull == set(report["pull"])
    assert {"wanted_deg", "free_share", "tight_share", "trapped_share", "histogram"} <= set(report["draft"])
    for entry in report["undercuts"]:
        assert {"area_mm2", "depth_mm", "sideways_mm", "centre_mm", "release"} <= set(entry)
        assert {"strain", "allowable", "verdict"} <= set(entry["release"])
        assert entry["release"]["verdict"] in ("comes off", "flexes off", "locked")
    assert {"mode", "added_volume_mm3"} <= set(report["fill"])
    for entry in report["pockets"]:
        assert {"centre_mm", "depth_mm", "volume_mm3", "area_mm2"} <= set(entry)
    for entry in report["vents"]:
        assert {"top_mm", "diameter_mm", "back_bore_mm", "pocket"} <= set(entry)
        assert -1 <= entry["pocket"] < len(report["pockets"])
    assert len(report["evacuation_s"]) == len(report["pockets"]) > 0
    assert {"faces", "size_mm", "volume_mm3", "watertight"} <= set(report["buck"])
    for entry in report["findings"]:
        assert set(entry) == {"slug", "severity", "words", "advice", "at_mm", "setting"}
        assert entry["slug"] in finding_kinds()
        assert entry["setting"] in {"", *all_settings()}
    assert set(report["automatic"]) <= set(all_settings())
    shares = [report["draft"][f"{state}_share"] for state in ("free", "tight", "trapped")]
    assert sum(shares) == pytest.approx(1.0, abs=1e-5)
    assert report["undercuts"]
    assert report["vents"]


def test_report_counts_the_sculpt_and_the_buck(idol, idol_buck, shape):
    report = idol[0].report
    sculpt = shape("idol")
    assert report["input"]["faces"] == sculpt.face_count
    assert report["input"]["vertices"] == sculpt.vertex_count
    scale = np.cbrt(np.linalg.det(_matrix(idol[0])[:3, :3]))
    np.testing.assert_allclose(report["input"]["size_mm"], sculpt.size * scale, rtol=1e-6)
    assert report["buck"]["faces"] == idol_buck.face_count
    np.testing.assert_allclose(report["buck"]["size_mm"], idol_buck.size, rtol=2e-7, atol=1e-4)
    assert report["buck"]["volume_mm3"] == pytest.approx(idol_buck.volume_mm3(), rel=1e-5)


def test_findings_are_worst_first(idol):
    ranks = [("stop", "warn", "note").index(entry["severity"]) for entry in idol[0].report["findings"]]
    assert ranks == sorted(ranks)


def test_times_of_all_steps(idol):
    times = idol[0].report["timing_s"]
    assert {"reading the sculpt", "filling undercuts", "placing vents", "drilling", "total"} <= set(times)
    assert all(value >= 0 for value in times.values())
    steps = sum(times.values()) - times["total"]
    # some goes between the steps, and up to two of them run at once
    assert 0.8 * times["total"] - 0.5 < steps < 2.01 * times["total"]


def test_progress_goes_up_in_every_step_and_to_its_end(idol, steps):
    assert all(0.0 <= share <= 1.0 for _, share in steps)
    steps = [step for step in steps if not step[0].endswith(COMPILING)]  # a word between, on a first run
    blocks = [(name, [s for _, s in block]) for name, block in itertools.groupby(steps, lambda s: s[0])]
    names = [name for name, _ in blocks]
    assert len(set(names)) == len(names)  # no step comes back
    for name, shares in blocks:
        assert shares == sorted(shares), name
        assert shares[0] == 0.0, name
        assert shares[-1] == 1.0, name
    assert set(names) == set(idol[0].report["timing_s"]) - {"total", COMPILING} | {"writing"}


def test_files(idol):
    outcome, folder, _ = idol
    assert {path.name for path in folder.iterdir()} == {
        "buck.stl",
        "buck.3mf",
        "look.ply",
        "report.json",
        "base_board.dxf",
        "base_board.svg",
        "blank.dxf",
        "blank.svg",
        "edge_strip.dxf",
        "edge_strip.svg",
        "height_gauge.dxf",
        "height_gauge.svg",
        "job_sheet.html",
        "paper_strip.dxf",
        "paper_strip.svg",
        "templates.pdf",
    }
    assert set(outcome.files) == set(folder.iterdir())


# --- the solid


def test_buck_is_one_watertight_solid_for_two_readers(idol, idol_buck):
    other = trimesh.Trimesh(idol_buck.vertices, idol_buck.faces, process=False)
    assert other.is_watertight
    assert other.is_winding_consistent
    assert other.volume > 0
    assert other.body_count == 1
    solid = _solid(idol_buck)
    assert solid.status() == manifold3d.Error.NoError
    assert len(solid.decompose()) == 1
    assert idol[0].report["buck"]["watertight"] is True
    assert idol[0].report["buck"]["crossing_pairs"] == 0
    assert trimesh.load_scene(idol[1] / "buck.3mf").to_geometry().is_watertight


def test_every_vent_is_one_tunnel(idol, idol_buck):
    vents = idol[0].report["vents"]
    assert all(vent["opening"] != "dimple" for vent in vents)
    assert _solid(idol_buck).genus() == len(vents)
    columns = Columns(idol_buck)
    tops, _ = columns.top(np.array([vent["top_mm"][:2] for vent in vents]))
    assert not np.isfinite(tops).any()  # nothing in the way from face to platen


def test_underside_is_flat(idol_buck):
    low = idol_buck.vertices[:, 2].min()
    assert low == 0.0
    on_plane = (idol_buck.corners()[:, :, 2] == 0.0).all(axis=1)
    area = -idol_buck.area_vectors()[on_plane, 2].sum()
    assert area > 0.6 * idol_buck.size[0] * idol_buck.size[1] * math.pi / 4
    # Nothing else is so near the platen that it would print as a bump.
    between = (idol_buck.vertices[:, 2] > 0.0) & (idol_buck.vertices[:, 2] < 0.05)
    assert not between.any()


def test_fixing_holes_are_blind_and_clear_of_vents(idol, idol_buck):
    underside, vents = idol[0].report["underside"], idol[0].report["vents"]
    holes = underside["fixings"]["holes"]
    assert len(holes) >= 2
    columns = Columns(idol_buck)
    for hole in holes:
        x, y = hole["centre_mm"]
        roof, _ = columns.below(np.array([[x, y, hole["depth_mm"] + 1.0]]))
        assert roof[0] == pytest.approx(hole["depth_mm"], abs=0.01)
        for vent in vents:
            apart = math.hypot(x - vent["top_mm"][0], y - vent["top_mm"][1])
            assert apart > hole["diameter_mm"] / 2 + vent["back_bore_mm"] / 2 + 1.0


def test_every_vent_is_joined_to_the_edge(idol):
    channels = idol[0].report["underside"]["channels"]
    assert channels["joined_vents"] == len(idol[0].report["vents"])
    assert channels["exits"] >= 1


def test_evacuation_is_within_the_target_or_said(idol):
    report = idol[0].report
    venting = report["venting"]
    assert venting["pockets"] == len(report["pockets"])
    assert venting["bare"] == sum(seconds is None for seconds in report["evacuation_s"])
    # The ring along the foot serves the pocket at the foot, which therefore has no vents of its own.
    served = {vent["pocket"] for vent in report["vents"]}
    foot = report["pockets"][0]
    assert foot["deepest_mm"][2] < report["base"]["trim_z_mm"]
    assert 0 not in served and -1 in served and report["evacuation_s"][0] is not None
    said = {entry["slug"] for entry in report["findings"]}
    assert ("pocket-shares-vent" in said) == bool(venting["shared"])
    assert ("pocket-without-vent" in said) == bool(venting["bare"])
    worst = max(s for s in report["evacuation_s"] if s is not None)
    told = any(entry["slug"] == "slow-evacuation" for entry in report["findings"])
    assert told == (worst > 0.5)


# --- the frame and the sculpt in it


def test_matrix_brings_the_sculpts_free_vertices_into_the_buck(bare_idol, shape, read_back):
    outcome, folder = bare_idol
    buck = read_back(folder / "buck.stl")
    sculpt = _placed(shape("idol"), outcome)
    assert sculpt.bounds[0, 2] == pytest.approx(outcome.report["base"]["foot_z_mm"], abs=1e-4)
    free = _free_faces(sculpt, Columns(sculpt), outcome.report["draft"]["wanted_deg"])
    corners = np.unique(sculpt.faces[free])
    points = sculpt.vertices[corners]
    # Where a wall of fill runs down over a free face, the fill is what can be seen.
    bare = Columns(buck).top(points[:, :2])[0] <= points[:, 2] + 1e-3
    assert bare.sum() > 0.9 * len(points) > 300
    apart, _ = cKDTree(buck.vertices).query(points[bare])
    assert apart.max() < 1e-4


def test_fill_only_adds(bare_idol, shape, read_back):
    outcome, folder = bare_idol
    lost = _solid(_placed(shape("idol"), outcome)) - _solid(read_back(folder / "buck.stl"))
    assert lost.volume() < 1.0  # mm3, of 60 000; rounding to single precision
    assert lost.volume() >= 0


def test_look_map_is_the_sculpt_in_the_bucks_frame(bare_idol, shape):
    outcome, folder = bare_idol
    seen = trimesh.load_mesh(folder / "look.ply", process=False)
    expected = _placed(shape("idol"), outcome)
    np.testing.assert_allclose(np.asarray(seen.bounds), expected.bounds, atol=1e-4)
    # large faces come in parts
    assert len(seen.faces) >= expected.face_count
    assert seen.area == pytest.approx(np.linalg.norm(expected.area_vectors(), axis=1).sum(), rel=1e-5)


@pytest.mark.parametrize("direction", ["x", [2.5, 0.0, 0.0]])
def test_axis_and_vector_name_the_same_pull(direction, job_of):
    outcome = look(job_of("box", pull={"direction": direction}), None)
    assert outcome.report["pull"]["direction"] == [1.0, 0.0, 0.0]
    matrix = _matrix(outcome)
    np.testing.assert_allclose(matrix[2, :3] / np.linalg.norm(matrix[2, :3]), [1, 0, 0], atol=1e-12)
    assert np.linalg.det(matrix[:3, :3]) > 0
    scale = np.cbrt(np.linalg.det(matrix[:3, :3]))
    np.testing.assert_allclose(matrix[:3, :3] @ matrix[:3, :3].T, scale**2 * np.eye(3), atol=1e-12)
    assert outcome.files == ()


def test_search_finds_the_pull_of_a_tilted_sculpt(job_of, sculpt_file):
    """The mushroom's mirror: a cone lying on its side has but one direction without undercut."""
    turn = trimesh.transformations.rotation_matrix(np.radians(70), [1, 0, 0])
    path = sculpt_file("cone", matrix=turn)
    outcome = look(
        job_of(path, pull={"direction": "search", "directions": 200}, base={"sink_mm": "auto"}), None
    )
    pull = outcome.report["pull"]
    axis = turn[:3, 2]
    assert np.degrees(np.arccos(min(np.dot(pull["direction"], axis), 1.0))) < 1.0
    setups = outcome.report["setups"]
    assert 1 <= len(setups) <= 5
    assert [one["number"] for one in setups] == list(range(1, len(setups) + 1))
    assert [one["taken"] for one in setups] == [True] + [False] * (len(setups) - 1)
    assert setups[0]["direction"] == pull["direction"]
    assert setups[0]["score"] == min(one["score"] for one in setups)
    assert setups[0]["trapped_area_mm2"] == pytest.approx(0.0, abs=1.0)
    given = look(job_of(path), None)
    assert given.report["draft"]["trapped_share"] > outcome.report["draft"]["trapped_share"]


# --- settings of the sculpt and the base


def test_sink_in_millimetres_cuts_the_foot_off(run):
    outcome, _ = run("ball", base={"sink_mm": 5.0}, fill={"mode": "none"}, fit={"shrinkage": 0.0}, **_dry())
    report = outcome.report
    assert report["pull"]["sink_mm"] == 5.0
    # a cap of height h of a ball of radius r holds pi h^2 (3 r - h) / 3; facets take a few per cent off
    assert report["pull"]["cut_volume_mm3"] == pytest.approx(np.pi * 25.0 * 55.0 / 3.0, rel=0.04)
    assert report["pull"]["widest_mm"] == pytest.approx(15.0, abs=40 / 48)
    # half of the ball, by 48 slices
    assert report["pull"]["widest_cuts_share"] == pytest.approx(0.5, abs=1.5 / 48)
    foot = report["base"]["foot_z_mm"]
    assert report["buck"]["size_mm"][2] == pytest.approx(foot + 35.0, abs=1e-3)
    np.testing.assert_allclose(_matrix(outcome) @ [0, 0, 5, 1], [0, 0, foot, 1], atol=1e-4)


def test_sink_widest_ends_at_the_equator_and_needs_no_fill(run):
    outcome, _ = run("ball", base={"sink_mm": "widest"}, fit={"shrinkage": 0.0}, **_dry())
    # The widest of 48 slices is at most one slice (40 / 48 mm) from the equator at 20 mm.
    assert outcome.report["pull"]["sink_mm"] == pytest.approx(20.0, abs=40 / 48)
    assert outcome.report["pull"]["widest_mm"] == 0.0
    assert outcome.report["undercuts"] == [] or outcome.report["undercuts"][0]["sideways_mm"] < 0.1
    assert "sinking-saves" not in {entry["slug"] for entry in outcome.report["findings"]}


def test_an_open_depth_is_settled_by_the_search_and_told(run):
    """A ball has no flat foot: it is sunk to its equator."""
    outcome, _ = run("ball", base={"sink_mm": "auto"}, fit={"shrinkage": 0.0}, **_dry())
    taken = [entry for entry in outcome.report["setups"] if entry["taken"]]
    assert len(taken) == 1
    assert outcome.report["pull"]["sink_mm"] == pytest.approx(20.0, abs=0.5)
    assert [entry["slug"] for entry in outcome.report["findings"]].count("sunk") == 1


def test_summary_offers_the_widest_outline_where_it_saves_fill(run):
    outcome, _ = run("ball", fit={"shrinkage": 0.0}, **_dry())
    offers = [entry for entry in outcome.report["findings"] if entry["slug"] == "sinking-saves"]
    assert len(offers) == 1
    # Room under the equator of a ball: cylinder less half a ball, pi r^3 / 3.
    saved = float(offers[0]["words"].split("about")[1].split("cm3")[0])
    assert saved == pytest.approx(math.pi * 20**3 / 3 / 1000, abs=1.0)


def _dry():
    """Base and vents that cost no time; `base` may be given beside it."""
    return {"vents": {"enabled": False}}


def test_shrinkage_makes_the_buck_larger(run):
    size = {}
    for s in (0.0, 0.02):
        outcome, _ = run("cone", fit={"shrinkage": s}, **NO_AIR)
        size[s] = outcome.report["buck"]["size_mm"][2] - outcome.report["base"]["foot_z_mm"]
        assert np.cbrt(np.linalg.det(_matrix(outcome)[:3, :3])) == pytest.approx(1 / (1 - s), rel=1e-12)
    assert size[0.0] == pytest.approx(20.0, abs=1e-3)
    assert size[0.02] == pytest.approx(20.0 / 0.98, abs=1e-3)


def test_outside_size_makes_the_buck_smaller_by_the_sheet_on_each_side(run, read_back):
    fit = {"controlled_side": "outside", "formed_thickness_mm": 0.5, "shrinkage": 0.0}
    outcome, folder = run("box", fit=fit, fill={"mode": "none"}, **NO_AIR)
    foot = outcome.report["base"]["foot_z_mm"]
    section = _solid(read_back(folder / "buck.stl")).slice(foot + 10.0)
    x0, y0, x1, y1 = section.bounds()
    assert (x1 - x0, y1 - y0) == pytest.approx((39.0, 29.0), abs=1e-3)
    assert outcome.report["buck"]["size_mm"][2] - foot == pytest.approx(19.5, abs=1e-3)
    assert any("0.50 mm" in entry["words"] for entry in outcome.report["findings"])


@pytest.mark.parametrize(("setting", "mm"), [({"height_mm": 60.0}, 60.0), ({"unit": "cm"}, 200.0)])
def test_unit_and_wanted_height_set_the_size(setting, mm, job_of):
    outcome = look(job_of("cone", sculpt=setting, fit={"shrinkage": 0.0}), None)
    assert outcome.report["input"]["size_mm"][2] == pytest.approx(mm, rel=1e-6)


def test_open_relief_is_closed_down(run, sculpt_file, read_back):
    line = np.linspace(0, 60, 41)
    x, y = np.meshgrid(line, line)
    z = 8 + 3 * np.sin(x / 9) * np.cos(y / 8)
    index = np.arange(41 * 41).reshape(41, 41)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    faces = np.concatenate([np.stack(t, -1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    relief = Mesh.from_arrays(np.column_stack([x.ravel(), y.ravel(), z.ravel()]), faces)
    path = sculpt_file(relief, name="relief.ply")
    outcome, folder = run(path, fit={"shrinkage": 0.0}, **NO_AIR)
    buck = read_back(folder / "buck.stl")
    assert trimesh.Trimesh(buck.vertices, buck.faces, process=False).is_watertight
    assert outcome.report["input"]["repairs"]
    placed = _placed(relief, outcome)
    apart, _ = cKDTree(buck.vertices).query(placed.vertices)
    # The base reaches 0.02 mm up around the foot, which is at the height of the lowest point.
    clear = placed.vertices[:, 2] > placed.vertices[:, 2].min() + 0.03
    assert clear.mean() > 0.95
    assert apart[clear].max() < 1e-4


def test_no_vents_when_switched_off(bare_idol):
    report = bare_idol[0].report
    assert report["vents"] == []
    assert "pockets" not in report
    assert report["evacuation_s"] == []
    assert any("switched off" in entry["words"] for entry in report["findings"])


# --- fill


@pytest.fixture(scope="module")
def mushroom_runs(run):
    return {
        mode: run("mushroom", fill={"mode": mode, "cell_mm": 0.4}, **NO_AIR)
        for mode in ("none", "locked", "full")
    }


@pytest.fixture(scope="module")
def mushrooms(mushroom_runs):
    return {mode: outcome for mode, (outcome, _) in mushroom_runs.items()}


def test_fill_none_adds_nothing_and_says_that_it_locks(mushrooms):
    outcome = mushrooms["none"]
    assert outcome.report["fill"]["added_volume_mm3"] == 0.0
    assert not outcome.releases
    assert outcome.report["undercuts"][0]["release"]["verdict"] == "locked"
    assert outcome.report["findings"][0]["severity"] == "stop"


@pytest.mark.parametrize("mode", ["locked", "full"])
def test_fill_frees_what_is_locked(mode, mushrooms):
    outcome = mushrooms[mode]
    assert outcome.releases
    assert outcome.report["fill"]["added_volume_mm3"] > 0
    assert not any(entry["severity"] == "stop" for entry in outcome.report["findings"])


def test_full_fill_leaves_nothing_to_pass_sideways(mushrooms, idol, bare_idol):
    for outcome in (mushrooms["full"], idol[0], bare_idol[0]):
        assert outcome.report["release"]["sideways_left_mm"] <= 0.1


def test_full_fill_adds_what_stands_under_the_cap(mushrooms):
    """Down from the rim (20 mm, 14 mm up) with 3 degrees, less what is there of the stem."""
    deep, wall = 14.0, math.tan(math.radians(3.0))
    solid = math.pi * (20**2 * deep + 20 * wall * deep**2 + wall**2 * deep**3 / 3)
    stem = math.pi * 8**2 * deep
    scale = 1 / (1 - 0.0065) ** 3  # shrinkage of the sheet, a percent or two at most
    added = mushrooms["full"].report["fill"]["added_volume_mm3"]
    # 64 sides hold .16 % less than a circle.
    assert added == pytest.approx((solid - stem) * scale, rel=0.01)
    assert mushrooms["locked"].report["fill"]["added_volume_mm3"] <= added * 1.001


def test_fill_walls_have_the_wanted_draft(mushroom_runs, read_back):
    outcome, folder = mushroom_runs["full"]
    buck = read_back(folder / "buck.stl")
    foot = outcome.report["base"]["foot_z_mm"]
    # The facets of the cap below 5.6 degrees have less than 3: the wall starts above them, at z = 16.
    high = 1.0065 * (14.0 + 20.0 * math.sin(math.radians(5.625)))
    z = buck.vertices[buck.faces, 2] - foot
    wall = (z.min(axis=1) > -0.1) & (z.max(axis=1) < high + 0.2) & (np.ptp(z, axis=1) > 0.01)
    normal = buck.area_vectors()[wall]
    area = np.linalg.norm(normal, axis=1)
    draft = np.degrees(np.arcsin(normal[:, 2] / np.maximum(area, 1e-30)))
    assert area.sum() == pytest.approx(2 * math.pi * 20.45 * high, rel=0.02)  # all of it is fill
    # some of the cap's own facets are among them, with 3.8 degrees
    assert area[np.abs(draft - 3.0) <= 0.5].sum() > 0.97 * area.sum()
    assert area[draft >= 2.5].sum() > 0.9999 * area.sum()


def test_keep_tight_leaves_tight_walls_alone(run):
    kept, _ = run("tight_cone", fill={"keep_tight": True, "cell_mm": 0.4}, **NO_AIR)
    filled, _ = run("tight_cone", fill={"cell_mm": 0.4}, **NO_AIR)
    assert kept.report["draft"]["tight_share"] > 0.4
    assert kept.report["fill"]["added_volume_mm3"] < 1.0
    # From 1.5 to 3 degrees over 20 mm: a ring of wedge section.
    wedge = 20 * (math.tan(math.radians(3)) - math.tan(math.radians(1.5))) / 2 * 20
    assert filled.report["fill"]["added_volume_mm3"] == pytest.approx(2 * math.pi * 19.7 * wedge, rel=0.05)


# --- doing it again, and stopping


def test_the_same_job_gives_the_same_bytes(idol, tmp_path):
    first, folder, job = idol
    again = make(job, tmp_path / "again", pictures=False)
    for name in ("buck.stl", "look.ply"):
        assert (tmp_path / "again" / name).read_bytes() == (folder / name).read_bytes()
    mine, other = ({**outcome.report, "timing_s": None} for outcome in (first, again))
    assert mine == other


def test_running_again_replaces_its_files_and_leaves_others(job_of, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "buck.stl").write_text("an old one")
    make(job_of("cone", **NO_AIR), tmp_path, pictures=False)
    assert (tmp_path / "notes.txt").read_text() == "mine"
    assert (tmp_path / "buck.stl").stat().st_size > 1000
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("asked", [1, 4, 9, 12, 14])
def test_a_run_that_is_stopped_leaves_nothing(asked, job_of, tmp_path):
    counter = itertools.count(1)
    folder = tmp_path / "deep" / "out"
    with pytest.raises(Cancelled, match="stopped while"):
        make(
            job_of("cone", **NO_AIR),
            folder,
            cancelled=lambda: next(counter) >= asked,
            pictures=False,
        )
    assert next(counter) == asked + 1  # it stopped at once
    assert list(tmp_path.iterdir()) == []


def test_stopping_at_the_last_step_leaves_an_older_buck_as_it_was(job_of, tmp_path):
    job = job_of("cone", **NO_AIR)
    make(job, tmp_path, pictures=False)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    last = list(json.loads(before["report.json"])["timing_s"])[-2]  # the one before `total`
    begun = set()
    with pytest.raises(Cancelled):
        make(
            job.evolved(job={"name": "other"}),
            tmp_path,
            progress=lambda step, _: begun.add(step),
            cancelled=lambda: last in begun,
            pictures=False,
        )
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_look_writes_maps_and_makes_no_buck(job_of, tmp_path):
    outcome = look(job_of("mushroom"), tmp_path / "maps", pictures=False)
    assert {path.name for path in (tmp_path / "maps").iterdir()} == {"look.ply", "look_report.json"}
    assert list(outcome.report) == LOOK_KEYS.split()
    assert not outcome.releases
    assert look(job_of("cone"), None).releases


def test_a_fill_can_be_stopped_in_its_midst(job_of, tmp_path):
    shares = []

    def progress(step, share):
        if step == "filling undercuts":
            shares.append(share)

    with pytest.raises(Cancelled, match="filling undercuts"):
        make(
            job_of("idol"),
            tmp_path / "out",
            progress=progress,
            cancelled=lambda: len(shares) > 3,
            pictures=False,
        )
    assert shares == sorted(shares) and 0.0 < shares[-1] < 0.9
    assert not (tmp_path / "out").exists()
