"""Makers' stories, as far as the buck goes, on rough versions of the samples: the figures are theirs."""

import heapq
import json
from functools import partial

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner
from manifold3d import CrossSection, FillRule, Manifold, Mesh64
from scipy import ndimage
from scipy.spatial import cKDTree

from buckwright.cli import main
from buckwright.job import read_job
from buckwright.mesh.reading import read_sculpt
from buckwright.pipeline.run import run as run_command
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.survey.detail.measuring import rolled_mm

make = partial(run_command, "make")


class Story:
    """A sample's run: report, sculpt in the buck's frame, buck as written."""

    def __init__(self, job, folder, buck):
        self.outcome = make(job, folder, pictures=False)
        self.report = self.outcome.report
        self.matrix = np.array(self.report["frame"]["matrix"])
        self.sculpt = read_sculpt(job.sculpt_path).mesh.transformed(self.matrix)
        self.buck = buck(folder / "buck.stl")
        self.columns = Columns(self.buck)
        self.solid = Manifold(Mesh64(self.buck.vertices, self.buck.faces.astype(np.uint64)))
        self.look = trimesh.load_mesh(folder / "look.ply", process=False)
        self.trim_z = self.report["base"]["trim_z_mm"]
        self.vents = np.array([vent["top_mm"] for vent in self.report["vents"]])
        self.feet = np.array([vent["foot_mm"] for vent in self.report["vents"]])
        self.straight = np.array([vent["bore"] == "straight" for vent in self.report["vents"]])

    def placed(self, point):
        """A point of the recipe (mm) in the buck's frame."""
        scale = np.cbrt(np.linalg.det(self.matrix[:3, :3]))
        unit = round(scale)  # 1 or 10: the file's unit; the rest is shrinkage
        return self.matrix[:3, :3] @ (np.asarray(point, float) / unit) + self.matrix[:3, 3]

    def words(self):
        return " ".join(f"{entry['words']} {entry['advice']}" for entry in self.report["findings"])


@pytest.fixture(scope="module")
def story(rough_sample, tmp_path_factory, read_back):
    def tell(name, coarse, **tables):
        """`coarse` None takes the sculpt that is there."""
        job = read_job(rough_sample(name, coarse)).evolved(underside={"engrave": False}, **tables)
        return Story(job, tmp_path_factory.mktemp(name), read_back)

    return tell


@pytest.fixture(scope="module")
def mask(story):
    return story("heron_mask", 6.0, vents={"min_pocket_mm": 2.0}, forecast={"quality": "preview"})


@pytest.fixture(scope="module")
def tile(rough_sample, story):
    """Every second line of the tile, a little smoothed, so that the rough one has slopes and no spikes."""
    path = rough_sample("river_terrain", 2.0).with_name("sculpt.ply")
    points = np.asarray(trimesh.load_mesh(path, process=False).vertices)
    side = round(len(points) ** 0.5)
    grid = points.reshape(side, side, 3)[::2, ::2].copy()
    smooth = ndimage.gaussian_filter(grid[:-1, :-1, 2], 1.0, mode="wrap")
    grid[..., 2] = np.pad(smooth, (0, 1), mode="wrap")
    index = np.arange(grid.shape[0] ** 2).reshape(grid.shape[:2])
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    faces = np.concatenate([np.stack(t, -1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    trimesh.Trimesh(grid.reshape(-1, 3), faces, process=False).export(path)
    return story("river_terrain", None, fill={"cell_mm": 0.8}, vents={"min_pocket_mm": 1.0})


@pytest.fixture(scope="module")
def canopy(story):
    cut = {"trim_step_mm": 0.5}
    return story("canopy", 5.0, fill={"cell_mm": 0.8}, vents={"min_pocket_mm": 3.0}, base=cut)


@pytest.fixture(scope="module")
def shell(story):
    return story("shoulder_shell", 7.0, fill={"cell_mm": 0.9}, vents={"min_pocket_mm": 2.0})


def _held_mm2(solid, z, give_mm):
    """Area of what stands above height z and reaches out over the outline there by more than `give_mm`.

    Holes smaller than a back-bore are closed first, so that vents do not count.
    """

    def whole(section):
        loops = [loop for loop in section.to_polygons() if abs(CrossSection([loop]).area()) > 20.0]
        return CrossSection(loops, FillRule.EvenOdd)

    above = whole(solid.trim_by_plane((0, 0, 1), z).project())
    return (above - whole(solid.slice(z)).offset(give_mm)).area()


def _drained(solid, feet, z):
    """Whether the air at height z over the foot of each vent can reach the outside along the channels."""
    x0, y0, _, x1, y1, _ = solid.bounding_box()
    around = CrossSection.square((x1 - x0 + 20, y1 - y0 + 20)).translate((x0 - 10, y0 - 10))
    air = max((around - solid.slice(z)).decompose(), key=lambda part: part.bounds()[2] - part.bounds()[0])
    assert air.bounds() == pytest.approx(around.bounds())
    return [not (CrossSection.circle(0.1, 8).translate((x, y)) ^ air).is_empty() for x, y in feet]


# --- US1: a half-mask for the theatre


def test_mask_in_metres_is_questioned_with_the_factor(sculpt_file, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = sculpt_file("idol", scale=0.001)
    seen = CliRunner().invoke(main, ["look", str(path), "--pull-direction", "z", "--no-pictures"])
    assert seen.exit_code == 0, seen.output
    words = " ".join(seen.stdout.split())
    assert "is the unit right?" in words
    assert "x 1000" in words
    assert "Read as metres" in words and "Specify the unit" in words
    # No buck of it is made until the unit is named ...
    refused = CliRunner().invoke(main, ["make", str(path), "--pull-direction", "z"])
    assert refused.exit_code == 2
    assert "Read as metres (x 1000)" in refused.stderr and "Specify the unit" in refused.stderr
    assert {entry.name for entry in tmp_path.iterdir()} == {"sculpt_look"}
    # ... and then its size is right.
    named = CliRunner().invoke(
        main, ["look", str(path), "--pull-direction", "z", "--sculpt-unit", "m", "--json", "--no-pictures"]
    )
    report = json.loads(named.stdout)
    assert "doubtful-size" not in {entry["slug"] for entry in report["findings"]}
    assert report["input"]["size_mm"][1] == pytest.approx(61.0, rel=0.01)


def test_mask_lists_beak_and_nostrils_as_undercuts(mask):
    middle = mask.look.triangles_center
    normal = mask.look.face_normals
    fields = mask.look.metadata["_ply_raw"]["face"]["data"]
    region, depth = np.asarray(fields["region"]).ravel(), np.asarray(fields["depth_mm"]).ravel()
    tip = mask.placed([0, -50, 50])
    under = (np.linalg.norm(middle[:, :2] - tip[:2], axis=1) < 8) & (normal[:, 2] < -0.5)
    under &= middle[:, 2] > mask.trim_z + 20
    assert under.sum() > 5
    assert (region[under] >= 0).all()
    assert mask.report["undercuts"][region[under][0]]["depth_mm"] >= depth[under].max() - 1e-3
    for side in (-1, 1):
        place = mask.placed([side * 9, -1, 47])
        near = np.linalg.norm(middle - place, axis=1) < 8
        found = set(region[near & (depth > 0.5)]) - {-1}
        assert found, side
        for number in found:
            entry = mask.report["undercuts"][number]
            assert entry["depth_mm"] > 0.5
            assert len(entry["centre_mm"]) == 3


def test_mask_comes_off_after_the_fill(mask):
    assert mask.outcome.releases
    assert mask.report["release"]["sideways_left_mm"] <= 0.1
    top = mask.report["buck"]["size_mm"][2]
    levels = np.linspace(mask.trim_z + 1.0, top - 1.0, 9)
    held = [_held_mm2(mask.solid, z, 0.12) for z in levels]
    # A strip of a tenth of a millimetre along a hand's breadth is 10 mm2.
    assert max(held) < 2.0, held
    raw = Manifold(Mesh64(mask.sculpt.vertices, mask.sculpt.faces.astype(np.uint64)))
    assert max(_held_mm2(raw, z, 0.12) for z in levels) > 500.0  # and it was held before


def test_tip_of_the_beak_stays(mask):
    nose = mask.sculpt.vertices[mask.sculpt.vertices[:, 2] > mask.trim_z + 20]
    tip = nose[nose[:, 1].argmin()]
    apart, _ = cKDTree(mask.buck.vertices).query(tip)
    assert apart < 0.1
    assert mask.report["fill"]["added_volume_mm3"] > 1000


@pytest.mark.parametrize("side", [-1, 1])
def test_each_eye_has_a_vent_through_to_the_underside(side, mask):
    eye = mask.placed([side * 35, 7, 30])
    near = np.linalg.norm(mask.vents[:, :2] - eye[:2], axis=1) < 24
    near &= mask.vents[:, 2] > mask.trim_z + 5
    assert near.any()
    through = mask.vents[near & mask.straight]
    assert not np.isfinite(mask.columns.top(through[:, :2])[0]).any()
    assert all(_drained(mask.solid, mask.feet[near], 1.25))


# --- US5 and US9: terrain


def test_opposite_edges_of_the_tile_meet(tile):
    for axis in (0, 1):
        along = np.linspace(5, 145, 57)
        heights = []
        for edge in (0.0, 150.0):
            points = np.zeros((len(along), 3))
            points[:, axis], points[:, 1 - axis] = edge, along
            placed = points @ tile.matrix[:3, :3].T + tile.matrix[:3, 3]
            heights.append(tile.columns.top(placed[:, :2])[0])
        near, far = heights
        seen = np.isfinite(near) & np.isfinite(far)  # a vent may stand there
        assert seen.mean() > 0.9
        assert np.abs(near - far)[seen].max() < 0.2


def test_corners_of_the_tile_meet_at_one_height(tile):
    corners = np.array([(x, y, 0.0) for x in (0.01, 149.99) for y in (0.01, 149.99)])
    placed = corners @ tile.matrix[:3, :3].T + tile.matrix[:3, 3]
    heights = tile.columns.top(placed[:, :2])[0]
    assert np.isfinite(heights).all() and np.ptp(heights) < 0.2


def test_opposite_edges_still_meet_under_a_ball_of_the_sheets_radius(tile):
    """The sheet of 0.5 mm comes into no corner sharper than one and a half of itself: a ball of 0.75 mm."""
    pixel, ball = 0.25, 0.75
    relief = relief_of(tile.buck, pixel_mm=pixel, margin_mm=2.0)
    height = np.where(np.isfinite(relief.height), relief.height, 0.0)
    stays_off = rolled_mm(height, pixel, ball) - height
    assert stays_off.max() > 0.5  # it bridges some places
    along = np.linspace(5.0, 145.0, 141)
    for axis in (0, 1):
        skin = []
        for edge, inside in ((0.0, 0.3), (150.0, 149.7)):
            points = np.zeros((2, len(along), 3))
            points[:, :, 1 - axis] = along
            points[0, :, axis], points[1, :, axis] = edge, inside
            at, beside = points @ tile.matrix[:3, :3].T + tile.matrix[:3, 3]
            skin.append(tile.columns.top(at[:, :2])[0] + stays_off[relief.pixel_of(beside[:, :2])])
        seen = np.isfinite(skin).all(axis=0)  # a vent may stand there
        assert seen.mean() > 0.9
        assert np.abs(skin[0] - skin[1])[seen].max() < 0.2


def _basins(heights, least_mm):
    """Closed basins of a height grid deeper than `least_mm`: flooded from the rim (an independent method)."""
    flooded = np.full(heights.shape, np.inf)
    heap = []
    ny, nx = heights.shape
    for y, x in np.ndindex(ny, nx):
        if y in (0, ny - 1) or x in (0, nx - 1):
            flooded[y, x] = heights[y, x]
            heapq.heappush(heap, (heights[y, x], y, x))
    while heap:
        level, y, x = heapq.heappop(heap)
        for v, u in ((y - 1, x), (y + 1, x), (y, x - 1), (y, x + 1)):
            if 0 <= v < ny and 0 <= u < nx and np.isinf(flooded[v, u]):
                flooded[v, u] = max(level, heights[v, u])
                heapq.heappush(heap, (flooded[v, u], v, u))
    depth = flooded - heights
    label, count = ndimage.label(depth > 0)
    deep = [k for k in range(1, count + 1) if depth[label == k].max() > least_mm]
    return label, deep


@pytest.fixture(scope="module")
def ground(tile):
    """The sculpt's own height grid in the buck's frame: x, y (N,), heights (N, N)."""
    points = tile.sculpt.vertices
    side = round(len(points) ** 0.5)
    order = np.lexsort((points[:, 0].round(3), points[:, 1].round(3)))
    grid = points[order].reshape(side, side, 3)
    return grid[0, :, 0], grid[:, 0, 1], grid[:, :, 2]


def test_every_basin_deeper_than_three_millimetres_has_a_vent_at_its_bottom(tile, ground):
    x, y, heights = ground
    label, deep = _basins(heights, 3.0)
    assert deep, "the sample has ponds"
    for number in deep:
        rows, columns = np.nonzero(label == number)
        lowest = np.argmin(heights[rows, columns])
        spot = np.array([x[columns[lowest]], y[rows[lowest]]])
        apart = np.linalg.norm(tile.vents[:, :2] - spot, axis=1)
        # The vent may move by 3 mm to keep its walls; the rough grid is 2 mm.
        assert apart.min() < 3.0 + 2.0 + 1.0, (spot, apart.min())


def test_no_vent_of_a_pocket_stands_on_a_ridge(tile):
    pockets = [vent for vent in tile.report["vents"] if vent["pocket"] >= 0]
    tops = np.array([vent["top_mm"] for vent in pockets])
    tops = tops[tops[:, 2] > tile.report["base"]["flange_z_mm"] + 1.0]
    assert len(tops) > 5
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ring = 4.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    spots = tops[:, None, :2] + ring
    around = tile.columns.top(spots.reshape(-1, 2))[0].reshape(len(tops), 24)
    # Left out: beside the tile, and where another vent stands.
    around[(np.abs(spots) > 75.0).any(axis=2) | ~np.isfinite(around)] = np.nan
    # Hollow ground lies below the mean of a ring round it, a plane slope at it, a ridge above it.
    rise = np.nanmean(around, axis=1) - tops[:, 2]
    assert rise.min() > 0.0, rise


def test_no_vent_of_the_tile_is_wider_than_a_millimetre(tile):
    assert max(vent["diameter_mm"] for vent in tile.report["vents"]) <= 1.0


def test_open_height_map_became_a_solid_tile(tile):
    assert tile.solid.status().name == "NoError"
    assert tile.report["buck"]["watertight"]
    assert any("Closed" in entry["words"] for entry in tile.report["findings"])
    assert all(_drained(tile.solid, tile.feet, 1.25))


# --- US7: a canopy that must sit flush


def test_canopy_is_smaller_by_the_formed_thickness_and_says_by_how_much(canopy):
    told = [entry["words"] for entry in canopy.report["findings"] if "is smaller by" in entry["words"]]
    assert len(told) == 1
    distance = float(told[0].split("is smaller by")[1].split("mm")[0])
    # Sheet of .75 mm over a bubble a third as high as wide thins to between a half and nine tenths.
    assert 0.375 < distance < 0.675
    crown = canopy.sculpt.vertices[:, 2].max()
    assert crown - canopy.buck.vertices[:, 2].max() == pytest.approx(distance, abs=0.02)


def test_canopys_foot_gets_a_verdict_with_its_strain(canopy):
    worst = canopy.report["undercuts"][0]
    assert worst["release"]["verdict"] == "locked"
    assert worst["release"]["strain"] > worst["release"]["allowable"]["high"]
    assert "% strain" in canopy.words()
    assert "split the form, or flatten the sculpt there" in canopy.words()


def test_canopys_window_has_no_vents(canopy):
    assert (canopy.vents[:, 2] < canopy.trim_z).all()
    assert canopy.report["base"]["riser_mm"] == 12.0


def test_canopy_is_cut_along_a_step_of_half_a_millimetre_under_its_window(canopy):
    """The step lies at the foot, and nothing of the window above it was moved for it."""
    base = canopy.report["base"]
    assert base["trim_step_mm"] == 0.5 and canopy.trim_z == pytest.approx(base["foot_z_mm"])
    up = canopy.buck.area_vectors()[:, 2] > 0.9 * np.linalg.norm(canopy.buck.area_vectors(), axis=1)
    heights = canopy.buck.centroids()[up, 2]
    low, high = canopy.trim_z - 0.2, canopy.trim_z + 0.2
    step = up.copy()
    step[up] = (heights > low) & (heights < high)
    around = canopy.solid.slice(low).to_polygons()
    length = sum(np.linalg.norm(ring - np.roll(ring, -1, axis=0), axis=1).sum() for ring in around)
    wide = np.linalg.norm(canopy.buck.area_vectors()[step], axis=1).sum() / length
    assert 0.1 < wide <= 0.55


# --- US8: a shoulder shell of overlapping leaves


def test_every_lip_is_counted_and_those_that_hold_are_filled(shell):
    deep = [entry for entry in shell.report["undercuts"] if entry["sideways_mm"] > 0.3]
    assert len(deep) >= 15
    assert shell.report["fill"]["wall_deg"] == 5.0
    assert shell.report["release"]["sideways_left_mm"] <= 0.3
    top = shell.report["buck"]["size_mm"][2]
    for z in np.linspace(shell.trim_z + 1.0, top - 1.0, 7):
        assert _held_mm2(shell.solid, z, 0.3) < 2.0


def test_ramps_under_the_lips_have_five_degrees(shell):
    normal = shell.buck.area_vectors()
    area = np.linalg.norm(normal, axis=1)
    draft = np.degrees(np.arcsin(np.clip(normal[:, 2] / np.maximum(area, 1e-30), -1, 1)))
    steep = (shell.buck.centroids()[:, 2] > shell.trim_z + 0.5) & (np.abs(draft) < 10.0)
    # The bores are steep too, but they are upright (or the conical end of a drill).
    steep &= np.abs(draft) > 0.5
    assert area[steep & (np.abs(draft - 5.0) < 0.5)].sum() > 0.8 * area[steep].sum()


def test_all_vents_of_the_shell_are_joined_to_the_outside(shell):
    assert len(shell.vents) > 30
    assert all(_drained(shell.solid, shell.feet, 1.25))
    (told,) = [entry["words"] for entry in shell.report["findings"] if entry["slug"] == "vents"]
    assert told.startswith(f"{len(shell.vents)} vents drain ")
    channels = shell.report["underside"]["channels"]
    assert channels["joined_vents"] == len(shell.vents)


def test_every_pocket_of_the_shell_has_a_vent_or_is_named(shell):
    venting = shell.report["venting"]
    assert venting["pockets"] == len(shell.report["pockets"])
    assert venting["bare"] < 0.2 * venting["pockets"]
    said = {entry["slug"] for entry in shell.report["findings"]}
    assert ("pocket-without-vent" in said) == (venting["bare"] > 0)
    assert ("pocket-shares-vent" in said) == (venting["shared"] > 0)
