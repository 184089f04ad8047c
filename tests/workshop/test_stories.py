"""Stories of makers, as far as frame, blank, heat, papers and several bucks are concerned; by hand."""

from typing import ClassVar

import ezdxf
import manifold3d
import numpy as np
import pytest
import trimesh
from matplotlib.tri import LinearTriInterpolator, Triangulation
from pypdf import PdfReader

from buckwright.errors import InputError, JobError
from buckwright.forming.forecast.buck_forecast import Levels, frame_round, run_forecast
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.forming.heating.findings import about_heating
from buckwright.forming.heating.settings import HeatingSettings
from buckwright.forming.heating.sheet_heating import heat_sheet
from buckwright.forming.sheets.materials import sheet
from buckwright.job import Job, job_from
from buckwright.mesh.manifolds import from_manifold
from buckwright.output.flat.dxf import dxf_bytes
from buckwright.output.job_sheet.cautions import cautions
from buckwright.output.job_sheet.page import JobWords, job_sheet_html
from buckwright.output.stl import stl_bytes
from buckwright.pipeline.pull_log import log_lines
from buckwright.pipeline.run import run
from buckwright.pipeline.settled import settled
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.survey.detail.measuring import measure_detail, stroke_of
from buckwright.workshop.cutting.findings import about_cutting
from buckwright.workshop.cutting.planning import plan_cutting
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.edge.holes import edge_distances, placed_holes
from buckwright.workshop.edge.pips import pips
from buckwright.workshop.edge.trim_curve import trim_curve
from buckwright.workshop.group.planning import outlines_of, plan_group, spacing_for
from buckwright.workshop.log.book import append_pull
from buckwright.workshop.log.record import PullRecord
from buckwright.workshop.machine.figures import MachineFigures
from buckwright.workshop.machine.findings import about_machine
from buckwright.workshop.machine.planning import MachinePlan, plan_fit
from buckwright.workshop.rig.planning import clamp_plane_mm, plan_rig
from buckwright.workshop.templates import drawings


def half_ellipsoid(width, depth, height, riser=12.0, segments=96):
    """On a riser with upright walls, standing on z = 0."""
    ball = manifold3d.Manifold.sphere(1.0, segments).scale((width / 2.0, depth / 2.0, height))
    half = ball.trim_by_plane((0.0, 0.0, 1.0), 0.0).translate((0.0, 0.0, riser))
    wall = manifold3d.Manifold.cylinder(riser, 1.0, 1.0, segments).scale((width / 2.0, depth / 2.0, 1.0))
    return half + wall


def job_for(solid, folder, **tables):
    """Of a sculpt pulled along z, quick unless more is asked for; None takes the file that is there."""
    path = folder / "sculpt.stl"
    if solid is not None:
        path.write_bytes(stl_bytes(from_manifold(solid), title="sculpt"))
    raw = {
        "sculpt": {"file": str(path), "unit": "mm"},
        "pull": {"direction": "z"},
        "base": {"sink_mm": 0.0},
        "forecast": {"quality": "off"},
        "vents": {"enabled": False},
        "fill": {"cell_mm": 2.0},
    }
    return job_from({table: raw.get(table, {}) | tables.get(table, {}) for table in {*raw, *tables}})


def look(solid, folder, **tables):
    return run("look", job_for(solid, folder, **tables), None)


def drafts_above(mesh, z):
    """Draft in degrees and area of the faces over a height; slivers are left out."""
    areas = mesh.area_vectors()[mesh.centroids()[:, 2] > z]
    size = np.linalg.norm(areas, axis=1)
    large = size > 1e-3
    return np.degrees(np.arcsin(areas[large, 2] / size[large])), size[large]


def rig_for(base_mm, opening_mm, **changed):
    usual = {
        "height_mm": 77.0,
        "grip_mm": 15.0,
        "reducing": False,
        "platen_mm": None,
        "dead_mm": 0.0,
        "gasket_width_mm": 10.0,
    }
    return plan_rig(base_mm=base_mm, opening_mm=opening_mm, **(usual | changed))


class TestOwlHalfMask:
    """165 x 120 x 65 mm on a riser of 12, gap 40: opening 245 x 200, 15 mm of grip, stretch 1.40."""

    OWL = (165.0, 120.0)

    def test_opening_and_blank(self):
        opening = frame_round(self.OWL, 77.0, 40.0)
        assert opening == (245.0, 200.0)
        assert rig_for(self.OWL, opening).blank_mm == (275.0, 230.0)

    def test_the_mean_stretch_of_the_whole_sheet(self):
        mesh = from_manifold(half_ellipsoid(165.0, 120.0, 65.0))
        run = run_forecast(
            relief_of(mesh, pixel_mm=0.5),
            Levels(foot_mm=12.0, trim_mm=12.0),
            ForecastSettings(quality="preview", nodes=2_000),
            lambda _share: None,
            sheet_mm=0.75,
            plenum_kpa=20.0,
            quality="preview",
            frame_mm=(245.0, 200.0),
        )
        corners = run.points[run.triangles]
        areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
        assert areas.sum() / 2.0 / (245.0 * 200.0) == pytest.approx(1.40, abs=0.05)

    def test_the_inside_is_as_wide_as_the_head_and_its_padding(self, tmp_path):
        """150 mm and 6 mm of padding a side: 162 mm inside at the named section, once the part is cold."""
        size = {"measure": "width", "along": "z", "level_share": 0.1, "wanted_mm": 150.0 + 2.0 * 6.0}
        told = look(half_ellipsoid(165.0, 120.0, 65.0, segments=48), tmp_path, size=size)
        mesh, shrinkage = told.results["posed"].mesh, told.report["automatic"]["fit.shrinkage"]
        low, high = mesh.bounds[:, 2]
        at = mesh.vertices[np.abs(mesh.vertices[:, 2] - low) < 0.2 * (high - low)]
        assert np.ptp(at[:, 0]) * (1.0 - shrinkage) == pytest.approx(162.0, abs=0.2)

    def test_strap_slots_keep_ten_millimetres(self):
        mesh = from_manifold(half_ellipsoid(165.0, 120.0, 65.0))
        curve = trim_curve(None, None, mesh, 12.0, sheet_mm=0.75)
        wanted = {"slot": np.array([(79.0, 0.0, 32.0), (79.0, 0.0, 16.0)])}
        slots = placed_holes(mesh, wanted, {"slot": (26.0, 4.0)}, curve.points[:, :2])
        far, near = edge_distances(slots, curve.points)
        assert far >= 10.0 > near


class TestLampShade:
    """A dome of 220 mm, 90 tall; the lamp holder goes through a flat land of 44 mm."""

    def test_the_pip_of_the_lamp_holder_is_concentric(self):
        dome = half_ellipsoid(220.0, 220.0, 90.0)
        flat = dome.trim_by_plane((0.0, 0.0, -1.0), -100.2)  # a land of 44 mm is left on top
        low, high = np.array(flat.slice(100.1).bounds()).reshape(2, 2)
        assert high - low == pytest.approx([44.0, 44.0], abs=0.8)
        mesh = from_manifold(flat)
        curve = trim_curve(None, None, mesh, 12.0, sheet_mm=0.75)
        wanted = {"fan": np.array([(0.0, 0.0, 100.2)])}
        holes = placed_holes(mesh, wanted, {"fan": (44.0, 44.0)}, curve.points[:, :2])
        bump = (pips(holes, 0.6) - flat).bounding_box()
        middle = [(bump[k] + bump[k + 3]) / 2.0 for k in (0, 1)]
        assert np.hypot(*middle) < 0.2 and bump[5] == pytest.approx(100.8, abs=0.02)

    def test_the_mean_of_the_cap_is_told_with_what_it_leaves_open(self, tmp_path):
        """A cap of 220 mm, 90 tall: 1 + (h/a)^2 = 1.67 times its ground, so 0.60 of the sheet, within 2 %."""
        high, half = 90.0, 110.0
        radius = (half**2 + high**2) / (2.0 * high)
        cap = manifold3d.Manifold.sphere(radius, 96).translate((0.0, 0.0, high - radius))
        told = look(cap.trim_by_plane((0.0, 0.0, 1.0), 0.0), tmp_path, fit={"controlled_side": "outside"})
        stretch = 0.75 / told.report["automatic"]["fit.formed_thickness_mm"]
        assert stretch == pytest.approx(1.0 + (high / half) ** 2, rel=0.02) == pytest.approx(1.67, rel=0.02)
        (words,) = [one.words for one in told.findings if one.slug == "offset"]
        assert "0.45 mm" in words and "crown and edge may come out 30 % thicker or thinner" in words

    def test_the_sheet_says_led_only_and_where_it_softens(self):
        report = {"heating": {"softening_c": {"low": 70.0}, "fume": {"words": "Little."}}}
        told = " ".join(cautions(report, material="PETG", use="lamp", vacuum="cleaner"))
        assert "LED only" in told and "softens from 70 °C" in told
        assert "Fume: Little." in told and "cleaner overheats" in told
        assert "LED" not in " ".join(cautions(report, material="PETG", use="other", vacuum="pump"))

    @pytest.mark.parametrize(
        ("use", "material", "words"),
        [
            ("face", "HIPS", "openings for nose, mouth"),
            ("worn", "ABS", "no protective gear"),
            ("food", "PETG", "cleared for it"),
            ("other", "PMMA", "kitchen oven"),
        ],
    )
    def test_cautions_fit_use_and_sheet(self, use, material, words):
        assert words in " ".join(cautions({}, material=material, use=use, vacuum="pump"))


def test_soap_tray_six_are_refused_and_four_stand_apart_in_the_drawing():
    bar = np.array([(-40.0, -27.5), (40.0, -27.5), (40.0, 27.5), (-40.0, 27.5)])
    given = {"spacing_mm": spacing_for(25.0), "edge_mm": 25.0, "opening_mm": (280.0, 220.0)}
    six, four = (plan_group((80.0, 55.0), count, **given) for count in (6, 4))
    assert (six.fits, six.most) == (False, 4)
    board = drawings.base_board(outlines_of([bar], four.places), np.zeros((0, 2)), 2.5, dowels=True)
    bars = [line.points for line in board.lines if line.layer == "engrave" and len(line.points) == 4]
    ends = sorted((tuple(one.min(axis=0)), tuple(one.max(axis=0))) for one in bars)
    assert len(bars) == 4
    assert ends[1][0][1] - ends[0][1][1] == pytest.approx(43.75)
    assert ends[2][0][0] - ends[0][1][0] == pytest.approx(43.75)


class TestSoapTray:
    """Four bars of 80 x 55 x 25 mm on one base, 43.75 mm apart; the sheet is the mould for casting them."""

    BAR, HIGH, SPACING, LAND = (80.0, 55.0), 25.0, 43.75, 15.0

    @classmethod
    def bar(cls, x, y, draft_deg):
        inset = cls.HIGH * np.tan(np.radians(draft_deg))
        signs = [(a, b, n) for n in (0, 1) for a in (-1.0, 1.0) for b in (-1.0, 1.0)]
        w, d = (side / 2.0 for side in cls.BAR)
        corners = [(x + a * (w - n * inset), y + b * (d - n * inset), n * cls.HIGH) for a, b, n in signs]
        return manifold3d.Manifold.hull_points(np.array(corners))

    @pytest.fixture(scope="class")
    @classmethod
    def tray(cls, tmp_path_factory):
        across, along = ((side + cls.SPACING) / 2.0 for side in cls.BAR)
        bars = [cls.bar(x * across, y * along, 6.0) for x in (-1, 1) for y in (-1, 1)]
        solid = manifold3d.Manifold.batch_boolean(bars, manifold3d.OpType.Add)
        folder = tmp_path_factory.mktemp("tray")
        job = job_for(
            solid,
            folder,
            sheet={"material": "PETG", "thickness_mm": 0.5},
            draft={"wanted_deg": 5.0},
            base={"footprint": "rectangle", "land_mm": cls.LAND},
            underside={"engrave": False},
            job={"use": "food"},
            detail={"edge_radius_mm": 2.0},
        )
        return run("make", job, folder / "out", pictures=False), folder / "out"

    def test_the_cavity_holds_the_bar(self, tray):
        """The side that touches the buck holds the size, so no offset; the volume of the cold part to 1 %."""
        outcome, _ = tray
        assert outcome.results["posed"].offset is None
        assert "offset" not in {one.slug for one in outcome.findings}
        ends = [np.prod(np.array(self.BAR) - 2.0 * n * self.HIGH * np.tan(np.radians(6.0))) for n in (0, 1)]
        wanted = self.HIGH / 3.0 * (ends[0] + ends[1] + np.sqrt(ends[0] * ends[1]))  # a frustum
        solid, foot = outcome.results["buck"].solid, outcome.report["base"]["foot_z_mm"]
        bars = solid.trim_by_plane((0.0, 0.0, 1.0), foot + 0.05).decompose()
        cold = (1.0 - outcome.report["automatic"]["fit.shrinkage"]) ** 3
        assert len(bars) == 4
        assert [one.volume() * cold for one in bars] == pytest.approx([wanted] * 4, rel=0.01)

    def test_one_level_land_joins_the_cavities(self, tray):
        outcome, _ = tray
        base = outcome.report["base"]
        low, high = np.array(outcome.results["buck"].solid.bounding_box()).reshape(2, 3)
        bars = outcome.results["posed"].mesh.bounds
        assert (low[:2] <= bars[0, :2] - self.LAND).all() and (high[:2] >= bars[1, :2] + self.LAND).all()
        (land,) = outcome.results["blank"].solid.slice(base["flange_z_mm"] / 2.0).decompose()
        assert land.num_contour() == 1  # no hole in it, and in one piece

    def test_steep_bars_get_five_degrees(self, tmp_path):
        plain = {"underside": {"fixing": "none", "engrave": False}}  # else upright bores count
        outcome = run("make", job_for(self.bar(0.0, 0.0, 2.0), tmp_path, draft={"wanted_deg": 5.0}, **plain))
        draft, area = drafts_above(outcome.buck, outcome.report["base"]["foot_z_mm"] + 0.1)
        walls = draft < 45.0
        assert outcome.report["release"]["short_of_draft_mm2"] == 0
        assert area[walls].sum() > 4_000.0
        assert area[draft < 4.6].sum() < 0.001 * area[walls].sum()  # round its corners in cells of 2 mm
        assert np.average(draft[walls], weights=area[walls]) == pytest.approx(5.0, abs=0.1)

    def test_sharp_top_edges_are_named_with_their_place(self, tray):
        """Two millimetres were asked for; the four bars are sharp all round their tops."""
        outcome, _ = tray
        (found,) = [one for one in outcome.findings if one.slug == "sharp-edges"]
        assert found.severity == "warn" and "sharper than 2 mm in 4 places" in found.words
        told = outcome.report["detail"]
        scale = 1.0 / (1.0 - outcome.report["automatic"]["fit.shrinkage"])
        sides = [side - 2.0 * self.HIGH * np.tan(np.radians(6.0)) for side in self.BAR]
        assert told["edge_length_mm"] == pytest.approx(4 * 2 * sum(sides) * scale, rel=0.2)
        tops = np.array([one["at_mm"] for one in told["edges"]["places"]])
        assert {(x > 0.0, y > 0.0) for x, y, _ in tops.tolist()} == {(a, b) for a in (0, 1) for b in (0, 1)}

    def test_veins_of_a_leaf_narrower_than_two_sheets_will_fill(self):
        """Of a sheet of 0.5 mm: a vein of 0.8 mm fills, one of 1.3 mm stays."""
        veins = [(x, wide) for x, wide in ((-12.0, 0.8), (12.0, 1.3))]
        leaf = self.bar(0.0, 0.0, 6.0)
        for x, wide in veins:
            leaf -= manifold3d.Manifold.cube((wide, 30.0, 2.0), True).translate((x, 0.0, self.HIGH))
        given = {"stroke_mm": stroke_of(None, 0.5), "edge_radius_mm": 0.0, "sheet_mm": 0.5, "above_mm": 1.0}
        (stroke,) = measure_detail(from_manifold(leaf), **given).strokes
        assert stroke.at_mm[0] == pytest.approx(-12.0, abs=0.4)

    def test_the_job_sheet_asks_for_sheet_that_is_cleared(self, tray):
        page = (tray[1] / "job_sheet.html").read_text(encoding="utf-8")
        assert "Food or skin: use sheet that is cleared for it" in page


def test_scenery_tiles_forty_and_a_tenth_spare_two_a_pull():
    """Two tiles of 150 in a blank of 220 x 390, turned 3 x 2 on a sheet: 44 tiles, 22 pulls, 4 sheets."""
    stock = StockSettings(parts=40, spare_share=0.1, stock_mm=(1220.0, 610.0), price=12.0)
    plan = plan_cutting((220.0, 390.0), stock, thickness_mm=0.5, density_kg_m3=1050.0, per_blank=2)
    assert (plan.blanks, len(plan.layout.pieces), plan.sheets) == (22, 6, 4)
    assert plan.cost_per_part == pytest.approx(4 * 12.0 / 40.0)


def test_canopy_border_is_as_long_as_the_ellipse_to_a_hundredth():
    """260 x 90: the perimeter of an ellipse by Ramanujan's second formula, good to 1e-5 here."""
    mesh = from_manifold(half_ellipsoid(260.0, 90.0, 45.0, segments=256))
    a, b = 130.0, 45.0
    h = ((a - b) / (a + b)) ** 2
    around = np.pi * (a + b) * (1.0 + 3.0 * h / (10.0 + np.sqrt(4.0 - 3.0 * h)))
    curve = trim_curve(None, None, mesh, 6.0, sheet_mm=0.5)
    assert curve.length_mm == pytest.approx(around, rel=0.01)
    strip = drawings.edge_strip(curve.length_mm, width_mm=12.0)
    reference = next(line for line in strip.lines if line.layer == "reference")
    assert reference.points[:, 0] == pytest.approx(around, rel=0.01)


def test_canopy_is_polished_wiped_and_warmed_before_the_sheet_is_clamped():
    def order(use):
        return job_sheet_html(JobWords(title="Canopy", use=use), {}, {}).decode()

    clear = order("clear")
    places = [clear.index(word) for word in ("polish the buck", "lint", "Warm the buck", "Clamp the sheet")]
    assert places == sorted(places)
    assert "polish the buck" not in order("lamp") and "lint" not in order("lamp")


MAP = {
    "base": [np.array([(-210, -160), (210, -160), (210, 160), (-210, 160)], float)],
    "base_mm": (420.0, 320.0),
    "height_mm": 52.0,
    "platen_mm": (600.0, 600.0),
    "frame_mm": (600.0, 600.0),
    "opening_mm": (600.0, 600.0),
    "dead_mm": 0.0,
    "blank_mm": (640.0, 640.0),
    "sag_share": 0.25,
}


def test_relief_map_within_the_height_of_the_machine():
    """35 mm of relief on a base of 17: 52 mm under a limit of 60, 50 with a scale that would fit."""
    assert plan_fit(MachineFigures(), most_mm=60.0, **MAP).low_enough
    low = plan_fit(MachineFigures(), most_mm=50.0, **MAP)
    assert low.low_enough is False and low.scale_to_fit < 1.0


class TestReliefMap:
    """Hills on a map of 80 x 60 mm, printed before it is formed and pinned by its marks."""

    SIZE = (80.0, 60.0)

    @pytest.fixture(scope="class")
    @classmethod
    def relief(cls, tmp_path_factory):
        n = 29
        x, y = np.meshgrid(*(np.linspace(-side / 2.0, side / 2.0, n) for side in cls.SIZE))
        ground = 6.0 + 9.0 * np.exp(-((x - 12.0) ** 2 + (y + 6.0) ** 2) / 90.0)
        ground += 4.0 / (1.0 + np.exp(-4.0 * (x + 20.0)))  # a scarp of 76 degrees
        at = np.arange(n * n).reshape(n, n)
        a, b, c, d = at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]
        faces = np.concatenate([np.stack(t, -1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
        open_map = trimesh.Trimesh(np.column_stack([x.ravel(), y.ravel(), ground.ravel()]), faces)
        folder = tmp_path_factory.mktemp("map")
        open_map.export(folder / "sculpt.stl")
        job = job_for(
            None,
            folder,
            base={"footprint": "rectangle", "sink_mm": 0.0},
            draft={"wanted_deg": 20.0},
            forecast={"quality": "preview", "nodes": 1_000},
            machine={"profile": "SHOP_600"},
            printer={"bed_mm": (90.0, 70.0)},
            artwork={"grid": True, "register": True},
        )
        return run("make", job, folder / "out", pictures=False), folder / "out"

    def test_no_wall_is_steeper_than_seventy_degrees(self, relief):
        outcome, _ = relief
        draft, area = drafts_above(outcome.buck, outcome.report["base"]["foot_z_mm"] + 0.1)
        assert area[draft < 25.0].sum() > 10.0  # the scarp is there
        assert area[draft < 19.5].sum() < 0.005 * area.sum()

    def test_four_pips_stand_on_the_land_outside_the_map(self, relief):
        outcome, _ = relief
        pips = np.array([one["at_mm"] for one in outcome.report["artwork"]["pips"]])
        assert len(pips) == 4
        low, high = outcome.results["posed"].mesh.bounds[:, :2]
        assert ((pips[:, :2] < low) | (pips[:, :2] > high)).any(axis=1).all()
        top, _ = Columns(outcome.buck).top(pips[:, :2])
        assert top == pytest.approx(outcome.report["base"]["flange_z_mm"] + 0.6, abs=0.02)

    def test_the_template_shows_where_they_lie_and_how_far_the_print_moves(self, relief):
        outcome, folder = relief
        told = outcome.report["artwork"]
        carried = outcome.results["printed"].carried
        plan = Triangulation(*carried.flat.T, carried.triangles)
        flat = np.array([one["in_sheet_mm"] for one in told["pips"]])
        for axis in (0, 1):  # by another library's search, where those places of the sheet come to lie
            lands = LinearTriInterpolator(plan, carried.formed[:, axis])(*flat.T)
            there = np.array([one["at_mm"][axis] for one in told["pips"]])
            assert np.abs(np.asarray(lands) - there).max() < 0.5
        assert 0.0 < told["mean_mm"] < told["farthest_mm"]
        text = PdfReader(folder / "grid_sheet.pdf").pages[0].extract_text()
        assert f"{told['mean_mm']:.1f} mm on average (estimate)" in text
        assert {f"pip {n}" for n in range(1, 5)} <= set(text.splitlines())

    def test_it_is_printed_in_four_and_fits_the_machine(self, relief):
        outcome, _ = relief
        assert len(outcome.report["print"]["pieces"]) == 4
        fit = outcome.report["machine"]["fit"]
        assert fit["low_enough"] and fit["height_mm"] == pytest.approx(outcome.report["buck"]["size_mm"][2])


class TestTheatreShop:
    """Forty cups of 120 x 90 x 50 mm by Friday on a machine of 600 x 600 mm."""

    GIVEN: ClassVar = {"spacing_mm": spacing_for(50.0), "edge_mm": 50.0, "opening_mm": (600.0, 600.0)}

    def test_nine_are_refused_and_six_stand_on_one_board(self):
        nine, six = (plan_group((120.0, 90.0), count, **self.GIVEN) for count in (9, 6))
        assert (nine.fits, nine.most, six.fits) == (False, 6, True)
        assert (635.0, 545.0) in nine.needs_mm
        cup = np.array([(-60.0, -45.0), (60.0, -45.0), (60.0, 45.0), (-60.0, 45.0)])
        board = drawings.base_board(outlines_of([cup], six.places), np.zeros((0, 2)), 2.5, dowels=True)
        assert len([c for c in board.circles if c.radius_mm == 3.0]) == 2
        cups = [line.points for line in board.lines if line.layer == "engrave" and len(line.points) == 4]
        xs = sorted({round(float(one[:, k].min()), 3) for one in cups for k in (0,)})
        assert len(cups) == 6 and min(np.diff(xs)) in (207.5, 177.5)

    def test_one_at_a_time_has_one_opening_in_plate_and_frame(self, tmp_path):
        rig = rig_for((120.0, 90.0), (170.0, 140.0), reducing=True, platen_mm=(600.0, 600.0), dead_mm=6.0)
        plate = drawings.mask_plate(rig, [], corner_mm=0.0, gasket_width_mm=10.0)
        frame = drawings.clamp_frame(rig, corner_mm=0.0)
        inner = []
        for drawing in (plate, frame):
            path = tmp_path / f"{drawing.name}.dxf"
            path.write_bytes(dxf_bytes(drawing))
            cuts = [one for one in ezdxf.readfile(path).modelspace() if one.dxf.layer == "cut"]
            boxes = [np.ptp([point[:2] for point in one.get_points()], axis=0) for one in cuts]
            inner.append(min(boxes, key=lambda size: float(size.sum())))
        assert inner[0] == pytest.approx(inner[1], abs=0.2)
        assert rig.reduction.gasket and rig.blank_mm == (200.0, 170.0)
        assert clamp_plane_mm(reducing=True, mask_mm=3.0, gasket_mm=6.0, squeeze=0.5) == rig.dead_mm

    def test_the_log_shows_the_best_and_the_last_change_and_counts_to_forty(self, tmp_path):
        (tmp_path / "cup.stl").write_bytes(b"")
        job = Job(folder=tmp_path, sculpt={"file": "cup.stl"})
        path = tmp_path / "cup.pulls.toml"
        for heat, fill in ((30.0, 1.0), (38.0, 3.0), (42.0, 2.0)):
            append_pull(path, PullRecord(heat_s=heat, fill=fill))
        count, best, change = log_lines(job)
        assert count.startswith("3 pulls") and "pull 2, 38 s of heat" in best
        assert "heat_s from 38 to 42" in change
        for _ in range(37):
            append_pull(path, PullRecord(heat_s=38.0, fill=3.0))
        assert log_lines(job)[0] == "40 pulls on this buck so far."


class TestBadInput:
    """One sentence that says what to do."""

    @pytest.mark.parametrize(
        ("tables", "words"),
        [
            ({"machine": {"profile": "SHOP_601"}}, "did you mean SHOP_600"),
            ({"machine": {"profile": "SHOP_600", "hole_mm": 40.0}}, "measured from middle to middle"),
            ({"machine": {"heater_zones": "1 2; 3"}}, "rows of as many numbers each"),
            ({"group": {"others": "lid.stl: none"}}, "write tray/buck.stl: 2"),
            ({"rig": {"owned": "280"}}, "write inside width and depth"),
        ],
    )
    def test_in_a_job(self, tables, words):
        with pytest.raises(JobError, match=words):
            settled(Job(**tables))

    def test_a_stock_smaller_than_the_blank_is_told(self):
        plan = plan_cutting(
            (300.0, 240.0), StockSettings(stock_mm=(200.0, 100.0)), thickness_mm=1.0, density_kg_m3=1050.0
        )
        (found,) = about_cutting(plan)
        assert found.slug == "stock-too-small" and found.advice

    def test_a_count_without_end_is_refused(self):
        stock = StockSettings(stock_mm=(9_000.0, 9_000.0))
        with pytest.raises(InputError, match="check its size"):
            plan_cutting((12.0, 12.0), stock, thickness_mm=1.0, density_kg_m3=1.0)

    def test_sheet_thicker_than_its_data_and_a_platen_of_unknown_holes(self):
        hips, own = sheet("HIPS"), HeatingSettings(sides="both", flux_kw_m2=2.0)
        heated = heat_sheet(hips, 4.0, own)
        found = about_heating(heated, hips, 4.0, own)
        assert "sheet-beyond-data" in [one.slug for one in found] and found[-1].advice
        assert "sheet-beyond-data" not in [one.slug for one in about_heating(heated, hips, 3.0, own)]
        fit = plan_fit(MachineFigures(), most_mm=60.0, **MAP)
        plan = MachinePlan("Box", "", "measured", fit, None, None, None, plated=False, gives={})
        slugs = [one.slug for one in about_machine(plan, sheet_mm=2.0, vacuum="cleaner")]
        assert {"platen-holes-unknown", "thick-for-a-cleaner"} <= set(slugs)
        assert "thick-for-a-cleaner" not in [one.slug for one in about_machine(plan, sheet_mm=2.0)]
