"""Halving: which plane is found, what is cut, how the halves fit together, refusals."""

import json
import tomllib
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold, OpType
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from buckwright.errors import BuckwrightError
from buckwright.findings import percent
from buckwright.forming.sheets.table import load_sheets
from buckwright.job import Job
from buckwright.job.files import job_from, read_job
from buckwright.mesh.reading import sculpt_of
from buckwright.mesh.triangles import Mesh
from buckwright.output.stl import stl_bytes
from buckwright.pipeline.run import run
from buckwright.pose.halves.cutting import halved
from buckwright.pose.halves.findings import GAIN, INSIDE, LOCKS, SEAM, about_halves
from buckwright.pose.halves.inserts import inserts_for
from buckwright.pose.halves.search import find_planes, planes_across
from buckwright.pose.halves.shells import closed_inside, closed_shell
from buckwright.pose.halves.stage import _job_file
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.stage import Told
from buckwright.survey.surveying import survey

DRAFT_DEG = 3.0
SHEET_MM = 1.0


def torus(large=60.0, small=18.0):
    made = trimesh.creation.torus(large, small, major_sections=96, minor_sections=40)
    return Mesh.from_arrays(made.vertices, made.faces)


def ball(radius, at):
    return Manifold.sphere(radius, 32).translate(at)


def bar(one, other, radius, other_radius):
    return Manifold.batch_hull([ball(radius, one), ball(other_radius, other)])


def horn():
    """A horn bent in the plane y = 0."""
    bend = [(80 * np.cos(a) - 80, 0.0, 80 * np.sin(a)) for a in np.linspace(0.0, 1.9, 9)]
    radii = np.linspace(20.0, 5.0, len(bend))
    joints = zip(bend, bend[1:], radii, radii[1:], strict=False)
    return as_mesh(Manifold.batch_boolean([bar(*joint) for joint in joints], OpType.Add))


def beast():
    """Four legs, a body and a head, y = 0 between left and right."""
    legs = [bar((x, y, 60), (x, y, 6), 10, 6) for x in (-38, 38) for y in (-13, 13)]
    rest = [
        ball(1.0, (0, 0, 0)).scale((60, 24, 26)).translate((0, 0, 70)),
        bar((48, 0, 82), (90, 0, 108), 14, 9),
    ]
    return as_mesh(Manifold.batch_boolean([*legs, *rest], OpType.Add))


def helmet():
    """A shell of 5 mm, open below its widest outline, its brim rolled outwards; x = 0 between its sides."""
    whole = Manifold.sphere(1.0, 48)
    shell = whole.scale((95.0, 120.0, 125.0)) - whole.scale((90.0, 115.0, 120.0))
    share = np.sqrt(1.0 - (55.0 / 125.0) ** 2)
    ring = [
        ball(7.0, (95.0 * share * np.cos(a), 120.0 * share * np.sin(a), -55.0))
        for a in np.linspace(0.0, 2.0 * np.pi, 49)
    ]
    roll = [Manifold.batch_hull(pair) for pair in pairwise(ring)]
    return as_mesh(Manifold.batch_boolean([shell.trim_by_plane((0.0, 0.0, 1.0), -55.0), *roll], OpType.Add))


def limb():
    """A leg with its foot turned forwards, y = 0 between left and right."""
    joints = [((0, 0, 0), 34), ((6, 0, 110), 26), ((0, 0, 190), 28), ((-4, 0, 290), 17), ((60, 0, 300), 12)]
    bars = [bar(one, other, r, s) for (one, r), (other, s) in pairwise(joints)]
    return as_mesh(Manifold.batch_boolean(bars, OpType.Add))


def tube():
    """A guard for a forearm: a wall of 4 mm, open at both ends, with a waist; flatter along y."""
    outside = [(48.0, 0.0), (40.0, 70.0), (36.0, 120.0), (40.0, 180.0)]
    ring = np.array([*outside, *((r - 4.0, z) for r, z in outside[::-1])])
    return as_mesh(Manifold.revolve(CrossSection([ring]), 64).scale((1.0, 0.85, 1.0)))


SHAPES = [torus, horn, beast]


@pytest.mark.parametrize(
    ("shape", "across"),
    [
        (torus, (0.0, 0.0, 1.0)),  # the ring lies in the plane: no other plane leaves both halves free
        (horn, (0.0, 1.0, 0.0)),  # the plane of the bend
        (beast, (0.0, 1.0, 0.0)),  # left and right
        (helmet, (1.0, 0.0, 0.0)),  # left and right
        (limb, (0.0, 1.0, 0.0)),
        (tube, (0.0, 1.0, 0.0)),  # its two flat sides
    ],
)
def test_the_plane_is_the_one_that_common_sense_takes(shape, across):
    mesh = closed_shell(shape())
    turn = Rotation.from_euler("xyz", (20.0, -35.0, 70.0), degrees=True).as_matrix()
    turned = Mesh(mesh.vertices @ turn.T, mesh.faces)
    best = find_planes(turned, draft_deg=DRAFT_DEG, directions=40)[0]
    assert abs(np.array(best.normal) @ turn @ across) > np.cos(np.radians(3.0))
    assert best.offset_mm == pytest.approx(0.0, abs=0.03 * mesh.size.max())


def test_planes_differ_and_the_best_comes_first():
    planes = find_planes(torus(), draft_deg=DRAFT_DEG, directions=40)
    assert 1 < len(planes) <= 3
    assert [plane.cost for plane in planes] == sorted(plane.cost for plane in planes)
    assert planes[0].symmetrical
    assert planes[0].hidden_share < 0.05  # what turns up to 3 degrees from the wall


def test_an_offset_is_found_along_a_direction():
    """Two balls, one on the other: along their axis each half must keep its own widest outline or lose it."""
    egg = as_mesh(Manifold.sphere(30.0, 64).scale((1.0, 1.0, 1.5)))
    plane = planes_across(egg, (0.0, 0.0, 2.0), None, draft_deg=DRAFT_DEG)[0]
    assert plane.offset_mm == pytest.approx(0.0, abs=3.0)
    given_ = planes_across(egg, (0.0, 0.0, 1.0), 12.5, draft_deg=DRAFT_DEG)[0]
    assert given_.offset_mm == pytest.approx(12.5)
    assert given_.cost > plane.cost


UNIT = st.tuples(*3 * [st.floats(-1.0, 1.0)]).filter(lambda way: np.linalg.norm(way) > 0.1)


@settings(max_examples=10)
@given(way=UNIT, share=st.floats(0.15, 0.85), which=st.sampled_from(SHAPES))
def test_any_plane_gives_two_solids_that_are_the_whole(way, share, which):
    mesh = which()
    solid = as_solid(mesh)
    normal = np.array(way) / np.linalg.norm(way)
    heights = mesh.vertices @ normal
    offset = float(heights.min() + share * np.ptp(heights))
    one, other, seam = halved(solid, normal, offset, overlap_mm=0.0, key_mm=0.0, sheet_mm=SHEET_MM)
    back = [as_solid(half.mesh).transform(np.linalg.inv(half.matrix)[:3]) for half in (one, other)]
    whole = back[0] + back[1]
    assert whole.volume() == pytest.approx(solid.volume(), rel=1e-6)
    differs = abs((whole - solid).volume()) + abs((solid - whole).volume())
    assert (
        differs < 0.01 * solid.surface_area() * 0.01
    )  # a hundredth of a millimetre on a hundredth of the skin
    assert one.plain_volume_mm3 + other.plain_volume_mm3 == pytest.approx(solid.volume(), rel=1e-9)
    # every corner of the sculpt is kept to a hundredth of a millimetre by the half on whose side it lies
    for half, side in zip((one, other), (heights > offset, heights < offset), strict=True):
        kept = mesh.vertices[side] @ half.matrix[:3, :3].T + half.matrix[:3, 3]
        assert cKDTree(half.mesh.vertices).query(kept)[0].max(initial=0.0) < 0.01
        assert abs(half.mesh.bounds[0, 2]) < 1e-9
    feet = [foot_mm2(half) for half in (one, other)]
    assert feet == pytest.approx([seam.area_mm2] * 2, rel=1e-3)


def foot_mm2(half):
    """Area of what a half stands on."""
    foot = (np.abs(half.mesh.corners()[:, :, 2]) < 1e-6).all(axis=1)
    return float(np.linalg.norm(half.mesh.area_vectors()[foot], axis=1).sum())


def test_the_land_of_a_block_is_known():
    """Section 60 x 40, walls plumb: the second part is as thin as outline over formed area says."""
    block = Manifold.cube((60.0, 40.0, 50.0), True)
    first, second, seam = halved(
        block, np.array([0.0, 0.0, 1.0]), 0.0, overlap_mm=8.0, key_mm=0.0, sheet_mm=SHEET_MM
    )
    step = SHEET_MM * 60 * 40 / (60 * 40 + 2 * (60 + 40) * 25)
    assert seam.step_mm == pytest.approx(step)
    assert first.mesh.size == pytest.approx([60 + 2 * step, 40 + 2 * step, 25 + 8])
    assert second.mesh.size == pytest.approx([60, 40, 25])
    solid = as_solid(first.mesh)
    wide = 60 * 40 + 2 * (60 + 40) * step + np.pi * step**2  # corners are rounded: Minkowski sum with a disc
    assert solid.slice(4.0).area() == pytest.approx(wide, rel=1e-4)
    assert solid.slice(8.001).area() == pytest.approx(60 * 40)
    assert solid.genus() == 0
    assert seam.length_mm == pytest.approx(200.0)


def test_keys_fit_one_way_only():
    """Set on the seam, a land holds the other half with its sheet on it, and holds it no other way."""
    block = Manifold.cube((90.0, 60.0, 50.0), True)
    first, second, seam = halved(
        block, np.array([0.0, 0.0, 1.0]), 0.0, overlap_mm=8.0, key_mm=2.0, sheet_mm=SHEET_MM
    )
    assert seam.keys == 3
    land = as_solid(first.mesh).transform(np.linalg.inv(first.matrix)[:3]).slice(-7.9)
    keyed = as_solid(second.mesh).transform(np.linalg.inv(second.matrix)[:3])
    for level in (-0.1, -4.0, -7.9):
        covered = keyed.slice(level).offset(seam.step_mm * 0.99)
        assert (covered - land).area() < 1e-6
        for turned in (covered.rotate(180.0), covered.mirror((1.0, 0.0)), covered.mirror((0.0, 1.0))):
            assert (turned - land).area() > 0.5  # mm2: a key stands against the wall
    assert keyed.slice(-8.1).area() == pytest.approx(90 * 60)


def test_halves_of_a_ring_release_and_those_of_a_bad_plane_do_not():
    solid = as_solid(torus())
    strain = type("Strain", (), {"low": 0.02, "high": 0.04, "source": "", "mark": ""})()

    def locked(offset):
        parts = halved(
            solid, np.array([0.0, 0.0, 1.0]), offset, overlap_mm=6.0, key_mm=1.5, sheet_mm=SHEET_MM
        )
        surveys = [
            survey(half.mesh, wanted_deg=DRAFT_DEG, sheet_mm=SHEET_MM, allowable=strain) for half in parts[:2]
        ]
        return [surveyed.release.locked for surveyed in surveys]

    assert locked(0.0) == [0, 0]
    assert locked(9.0)[1] >= 1


@pytest.mark.parametrize(("shape", "across"), [(helmet, 0), (limb, 1), (tube, 1), (horn, 1)])
def test_each_half_of_what_locks_releases(shape, across):
    """A helmet with a rolled brim, a limb, a tube and a horn: none comes off in one piece."""
    mesh = shape()
    made = run("halves", Job().with_sculpt(sculpt_of(mesh, unit="mm")), None, pictures=False)
    parted = made.results["parted"]
    assert abs(parted.plane.normal[across]) > np.cos(np.radians(1.0))
    assert [seen.release.locked for seen in parted.surveys] == [0, 0]
    assert dict(made.summary.answers)["Releases"] == "both halves, straight off."
    told = [one.slug for one in made.findings]
    assert LOCKS.slug not in told and (INSIDE.slug in told) == (shape in (helmet, tube))


def test_the_inside_of_a_shell_is_closed_and_its_outside_kept():
    """Between ellipsoids, down to a plane: the inside is a cap of the inner one, and the hole of the brim."""
    solid = as_solid(helmet())
    closed = closed_inside(solid)
    assert (solid - closed).volume() < 1e-6 and closed.genus() == 0 and solid.genus() == 0
    inner = Manifold.sphere(1.0, 48).scale((90, 115, 120)).trim_by_plane((0.0, 0.0, 1.0), -55.0)
    assert (inner - closed).volume() < 1e-6
    added = closed.volume() - solid.volume()
    assert inner.volume() < added < 1.05 * inner.volume()  # the brim reaches 7 mm lower
    (x, y, z), _ = np.array(closed.bounding_box()).reshape(2, 3)
    assert (x, y, z) == pytest.approx(np.array(solid.bounding_box())[:3])
    assert as_mesh(closed_inside(as_solid(tube()))).face_count < tube().face_count


@pytest.mark.parametrize("shape", [torus, horn, beast, limb])
def test_what_is_no_shell_stays_as_it_is(shape):
    solid = as_solid(shape())
    assert closed_inside(solid) is solid
    mesh = shape()
    assert closed_shell(mesh) is mesh
    torn = Mesh(mesh.vertices, mesh.faces[3:])
    assert closed_shell(torn) is torn


@pytest.fixture(scope="module")
def ring(tmp_path_factory):
    folder = tmp_path_factory.mktemp("ring")
    (folder / "ring.stl").write_bytes(stl_bytes(torus(), title="ring"))
    return folder


def job_of(folder, *, pull="z", **halves):
    names = {"sculpt": {"file": "ring.stl"}, "job": {"name": "Ring"}}
    return Job(folder=folder, **names, pull={"direction": pull, "directions": 20}, halves=halves)


def test_the_command_writes_two_jobs_that_release(ring):
    outcome = run("halves", job_of(ring, pull="search"), ring / "out")
    report = json.loads((ring / "out" / "halves_report.json").read_text(encoding="utf-8"))
    assert [plane["taken"] for plane in report["halves"]["planes"]].index(True) == 0
    assert (ring / "out" / "halves.png").stat().st_size > 20_000
    assert dict(outcome.summary.answers)["Releases"].startswith("both halves")
    for name in "ab":
        half = read_job(ring / "out" / f"half_{name}.toml")
        assert half.job.name == f"Ring half {name.upper()}"
        assert not half.halves.seek
        looked = run("look", half, None)
        assert looked.releases
        assert looked.report["pull"]["direction"] == [0.0, 0.0, 1.0]
        assert looked.report["pull"]["sink_mm"] == 0.0


def test_what_still_locks_and_what_is_gained_is_told(ring):
    outcome = run("halves", job_of(ring, normal="z", offset_mm=9.0), None, pictures=False)
    told = {finding.slug: finding for finding in outcome.findings}
    assert told[LOCKS.slug].severity == "warn"
    assert "Half B" in told[LOCKS.slug].words
    parted = outcome.results["parted"]
    told = {finding.slug: finding for finding in about_halves(replace(parted, whole_hidden_share=0.9))}
    assert told[GAIN.slug].severity == "note"
    assert percent(parted.plane.hidden_share) in told[GAIN.slug].words
    told = {finding.slug: finding for finding in about_halves(replace(parted, whole_hidden_share=0.1))}
    assert told[GAIN.slug].severity == "warn"


def test_a_half_takes_nothing_over_that_is_of_the_whole(ring):
    """A size by a measurement would scale it, and the axis of a mirror may run along its pull."""
    picture = ring / "chequer.png"
    picture.write_bytes(b"known by its name")
    whole = job_of(ring, normal="z", offset_mm=0.0).evolved(
        pull={"direction": "y"},
        sculpt={"mirror": "z"},
        size={"measure": "width", "wanted_mm": 90.0},
        artwork={"file": picture.name},
        group={"others": "lid/job.toml"},
    )
    told = Told(job=whole, title="Ring", results={})
    half = job_from(tomllib.loads(_job_file(told, "A", "half_a.stl").decode()))
    assert (half.sculpt.mirror, half.pull.direction) == ("x", "z")
    assert (half.size.measure, half.artwork.file, half.group.others) == ("none", "", "")


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"keys": 3, "key_mm": 1.5}, "; 3 keys fit them together one way only."),
        ({"keys": 0, "key_mm": 1.5}, "part B; there is no room for keys."),
        ({"keys": 0, "key_mm": 0.0}, "the mean thickness of part B."),
    ],
)
def test_of_keys_nothing_is_told_where_none_are_asked_for(ring, keys, words):
    parted = run("halves", job_of(ring, normal="z", offset_mm=0.0), None, pictures=False).results["parted"]
    told = {one.slug: one for one in about_halves(replace(parted, seam=replace(parted.seam, **keys)))}
    assert told[SEAM.slug].words.endswith(words)


@pytest.mark.parametrize(
    ("halves", "words"),
    [
        ({"plane": 3, "normal": "x"}, "there is only 1 plane"),
        ({"normal": "z", "offset_mm": 40.0}, "does not cut the sculpt, which reaches from -18.0 to 18.0 mm"),
        ({"offset_mm": 4.0}, "an offset without a direction"),
    ],
)
def test_what_cannot_be_cut_is_told(ring, halves, words):
    with pytest.raises(BuckwrightError, match=words):
        run("halves", job_of(ring, **halves), None, pictures=False)


def test_make_leaves_the_sculpt_whole(ring):
    from buckwright.pipeline.commands import COMMANDS, stages_for

    assert "parted" in {stage.gives for stage in stages_for(COMMANDS["make"])}
    outcome = run("look", job_of(ring), None, pictures=False)
    assert "halves" not in outcome.report


def test_crumbs_are_refused():
    with pytest.raises(BuckwrightError, match="leaves nothing"):
        halved(
            ball(20.0, (0, 0, 0)), np.array([0.0, 0.0, 1.0]), 20.5, overlap_mm=0.0, key_mm=0.0, sheet_mm=1.0
        )


def drilled(radius=7.0):
    """A block of 100 x 80 x 40 mm with a round hole of 15 mm depth in its right wall."""
    hole = Manifold.cylinder(30.0, radius, radius, 32).rotate((0.0, 90.0, 0.0)).translate((35.0, 0.0, 20.0))
    return as_mesh((Manifold.cube((100.0, 80.0, 40.0)).translate((-50.0, -40.0, 0.0)) - hole).refine(4))


def slugs(found):
    return [one.slug for one in found if one.slug in ("halves-show-more", "loose-insert")]


def test_a_look_proposes_halves_where_much_is_hidden_and_an_insert_for_one_deep_place():
    made = run("look", Job(pull={"direction": "y"}).with_sculpt(sculpt_of(horn(), unit="mm")), None)
    assert slugs(made.findings) == ["halves-show-more"]
    told = made.report["proposal"]
    assert told["hidden_share"] > 0.4 and told["halves"]["hidden_share"] < 0.1
    assert abs(told["halves"]["normal"][1]) == pytest.approx(1.0, abs=1e-3)
    block = Job(pull={"direction": "z"}, base={"sink_mm": 0.0}).with_sculpt(sculpt_of(drilled(), unit="mm"))
    made = run("look", block, None)
    assert slugs(made.findings) == ["loose-insert"]
    (one,) = made.report["proposal"]["inserts"]
    assert one["sideways_mm"] == pytest.approx(15.0, abs=0.3)
    assert one["way"] == pytest.approx([-1.0, 0.0, 0.0])  # back into the hollow, away from the wall
    assert one["freed_share"] == pytest.approx(1.0)
    quiet = run("look", block.evolved(halves={"propose": False}), None)
    assert not slugs(quiet.findings) and "proposal" not in quiet.report


def test_an_insert_that_looks_both_ways_would_be_held():
    """A groove round a drum looks every way."""
    ring = Manifold.cylinder(3.0, 40.0, 40.0, 96) - Manifold.cylinder(3.0, 26.0, 26.0, 96)
    mesh = as_mesh(Manifold.cylinder(80.0, 30.0, 30.0, 96) - ring.translate((0.0, 0.0, 10.0)))
    seen = survey(mesh, wanted_deg=DRAFT_DEG, sheet_mm=SHEET_MM, allowable=load_sheets()["HIPS"].strain)
    (one,) = inserts_for(mesh, seen)
    assert one.freed_share < 0.9 and not one.can_be_loose


def test_halves_look_for_no_setups_and_bring_pictures():
    made = run("halves", Job().with_sculpt(sculpt_of(torus(), unit="mm")), None)
    assert "finding the pull" not in made.report["timing_s"]
    parted = made.results["parted"]
    assert parted.images.shape == (len(parted.planes), 256, 256, 4)
    assert all(image[..., 3].any() for image in parted.images)
    assert 0.2 < parted.whole_hidden_share < 0.8
    assert parted.shape.bounds == pytest.approx(torus().bounds, abs=0.5)
