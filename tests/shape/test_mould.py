"""A female mould: its cavity is the part turned over, it releases upwards, its outside is exact."""

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from buckwright.errors import InputError, JobError
from buckwright.forming.artwork.settings import ArtworkSettings
from buckwright.forming.artwork.stage import ARTWORK
from buckwright.job import Job
from buckwright.mesh.reading import Sculpt
from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.run import run
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.loft import loft
from buckwright.shape.mould.cavity import LEAST_FLOOR_MM, build_mould
from buckwright.shape.offset.allowance import offset_outward
from buckwright.shape.solid import as_mesh

PLAIN = {"pull": {"direction": "z"}, "mould": {"form": "female"}, "fill": {"mode": "none"}}
QUIET = {"vents": {"enabled": False}, "forecast": {"quality": "off"}}
WIDE, DEEP, TALL = 60.0, 44.0, 20.0


def mould(body, *, floor_mm=None, draft_deg=2.0, channel_mm=2.5, dead_mm=0.0, **base):
    return build_mould(
        body,
        None,
        base=BaseSettings(**base),
        floor_mm=floor_mm,
        sheet_mm=1.0,
        draft_deg=draft_deg,
        channel_mm=channel_mm,
        dead_mm=dead_mm,
    )


def cavity(blank):
    """What the block lacks."""
    return loft(blank.plan.levels) - blank.solid


def made(body, **tables):
    job = Job(**{**PLAIN, "base": {"sink_mm": 0.0}, "fit": {"shrinkage": 0.0}, **QUIET, **tables})
    return run("make", job.with_sculpt(Sculpt(as_mesh(body), "stl", "mm")), None, pictures=False)


@pytest.fixture(scope="module")
def cone():
    return Manifold.cylinder(TALL, 30.0, 12.0, 64)


def test_the_cavity_of_a_cone_is_the_cone(cone):
    """Below the trim line just the frustum of 64 sides, upside down; above it what a knife needs."""
    blank = mould(cone)
    part = cavity(blank).trim_by_plane((0.0, 0.0, -1.0), -blank.plan.trim_z_mm)
    sides = 64 / 2 * np.sin(2 * np.pi / 64)  # area of the polygon over the square of its radius
    assert part.volume() == pytest.approx(sides * TALL / 3 * (30**2 + 30 * 12 + 12**2), rel=1e-5)
    turned = cone.rotate((180.0, 0.0, 0.0)).translate((0.0, 0.0, blank.plan.trim_z_mm))
    assert (part - turned).volume() + (
        turned - part
    ).volume() < 1e-5 * part.volume()  # the wall above begins 0.02 mm lower
    assert part.bounding_box()[2] == pytest.approx(LEAST_FLOOR_MM)


def test_it_lies_as_it_is_turned_over():
    """Turned about the x axis: what was behind is in front."""
    lopsided = Manifold.hull_points(
        np.array([[-30, -20, 0], [30, -20, 0], [30, 20, 0], [-30, 20, 0], [-20, 15, 18], [20, 15, 18]], float)
    )
    blank = mould(lopsided)
    low = cavity(blank).slice(blank.plan.flange_mm + 2.0).bounds()
    assert low[3] < 0.0  # the ridge was at y = +15
    place = blank.plan.stand.place((20.0, 15.0, 18.0))
    assert place == pytest.approx((20.0, -15.0, blank.plan.flange_mm))


@pytest.mark.parametrize("draft_deg", [0.5, 4.0])
def test_walls_lean_back_from_cavity_and_block(draft_deg):
    """Seen from above both widen the right way: the cavity upwards, the block downwards."""
    box = Manifold.cube((WIDE, DEEP, TALL)).translate((-WIDE / 2, -DEEP / 2, 0.0))
    blank = mould(box, draft_deg=draft_deg)
    slope = np.tan(np.radians(draft_deg))
    top, foot = blank.plan.top_z_mm, blank.plan.trim_z_mm
    riser = [cavity(blank).slice(z).bounds()[2] for z in (foot + 0.1, foot + 1.1)]
    assert riser[1] - riser[0] == pytest.approx(slope, abs=2e-3)
    outside = [loft(blank.plan.levels).slice(z).bounds()[2] for z in (1.0, 11.0)]
    assert outside[0] - outside[1] == pytest.approx(10.0 * slope, abs=2e-3)
    assert cavity(blank).slice(top - 1e-3).bounds()[2] < outside[1]


def test_a_cone_leaves_its_mould_and_one_upside_down_does_not(cone):
    free = made(cone)
    assert (free.report["release"]["locked"], free.releases) == (0, True)
    assert free.report["draft"]["wanted_deg"] == pytest.approx(1.5)  # 3 degrees on a male one
    upside_down = cone.rotate((180.0, 0.0, 0.0)).translate((0.0, 0.0, TALL))
    locked = made(upside_down)
    assert (locked.report["release"]["locked"], locked.releases) == (1, False)
    low, _, high, _ = locked.results["blank"].plan.plate.bounds()
    assert (
        high - low >= 60.0 + 2 * locked.report["base"]["land_mm"] - 1e-3
    )  # the block holds its widest place


def test_the_fill_gives_the_cavity_its_draft():
    """A box with walls of 1.5 degrees: a frustum with rounded corners, by its closed form."""
    box = Manifold.cube((WIDE, DEEP, TALL)).translate((-WIDE / 2, -DEEP / 2, 0.0))
    outcome = made(box, fill={"mode": "full", "tolerance_mm": 0.02})
    assert outcome.releases
    blank = outcome.results["blank"]
    part = cavity(blank).trim_by_plane((0.0, 0.0, -1.0), -blank.plan.trim_z_mm)
    slope = np.tan(np.radians(1.5))
    wanted = WIDE * DEEP * TALL + (WIDE + DEEP) * slope * TALL**2 + np.pi / 3 * slope**2 * TALL**3
    assert part.volume() == pytest.approx(wanted, rel=2e-3)
    assert part.volume() > WIDE * DEEP * TALL


@pytest.mark.parametrize(("side", "wider"), [("mould", 0.0), ("inside", 1.0)])
def test_the_outside_is_exact_and_the_inside_takes_the_sheet_off(side, wider):
    box = Manifold.cube((WIDE, DEEP, TALL)).translate((-WIDE / 2, -DEEP / 2, 0.0))
    fit = {"controlled_side": side, "formed_thickness_mm": 0.5, "shrinkage": 0.01}
    outcome = made(box, fit=fit)
    plan = outcome.results["blank"].plan
    low, _, high, _ = plan.part.bounds()
    assert high - low == pytest.approx(WIDE / 0.99 + wider, abs=1e-6)
    assert plan.trim_z_mm - plan.flange_mm == pytest.approx(TALL / 0.99 + wider / 2, abs=1e-6)
    told = [finding.words for finding in outcome.findings if finding.slug == "offset"]
    assert [("cavity is larger" in words) for words in told[:1]] == [True] * bool(wider)


def test_outwards_is_inwards_of_what_lies_outside():
    ball = trimesh.creation.icosphere(2, 20.0)
    grown = offset_outward(Mesh.from_arrays(ball.vertices, ball.faces), 1.0)
    assert np.linalg.norm(grown.mesh.vertices, axis=1) == pytest.approx(21.0, abs=0.02)
    assert grown.mesh.volume_mm3() > ball.volume


def test_vents_are_at_the_bottom_and_the_part_in_the_cavity(cone):
    forecast = {"quality": "preview", "nodes": 1200}
    outcome = made(cone, vents={"enabled": True}, forecast=forecast)
    plan, report = outcome.results["blank"].plan, outcome.report
    assert report["pockets"][0]["depth_mm"] == pytest.approx(plan.top_z_mm - plan.flange_mm, abs=0.1)
    assert report["venting"]["bare"] == 0
    floor = [vent["top_mm"][2] for vent in report["vents"] if vent["top_mm"][2] < plan.flange_mm + 0.5]
    assert len(floor) >= 1
    weakest = report["forecast"]["weakest"]["where_mm"]
    assert weakest[2] < plan.flange_mm + 2.0  # the sheet arrives there last
    assert np.hypot(*weakest[:2]) < 30.0
    assert report["base"]["style"] == "female"


def test_a_floor_holds_channels_and_lifts_the_land_over_the_clamp_plane(cone):
    with pytest.raises(JobError, match="cannot hold channels"):
        mould(cone, floor_mm=4.0)
    assert mould(cone, floor_mm=12.0).plan.flange_mm == 12.0
    assert mould(cone, dead_mm=40.0).plan.top_z_mm == pytest.approx(42.0)


def test_what_it_cannot_have_is_refused_in_words(cone):
    with pytest.raises(InputError, match="holes cannot be marked in a female mould"):
        made(cone, edge={"rivets_mm": [[0.0, 0.0, TALL]]})
    known = {"source": None, "posed": None, "formed": object(), "rigged": object(), "clock": None}
    with pytest.raises(InputError, match="a print cannot be carried into a female mould"):
        ARTWORK.run(blank=mould(cone), artwork=ArtworkSettings(grid=True), pip_mm=0.6, **known)
