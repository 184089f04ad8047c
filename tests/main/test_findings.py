"""Every kind of finding: a case in which it is raised, one in which it is not, and how it is worded."""

import re
from types import SimpleNamespace as Made

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

import buckwright.api as bw
from buckwright.clock import Clock
from buckwright.findings import SEVERITIES
from buckwright.forming.artwork.findings import about_artwork, moves_words
from buckwright.forming.drainage.findings import about_drainage
from buckwright.forming.forecast.findings import about_forecast
from buckwright.forming.forecast.formed import FREE, OVERDRAWN
from buckwright.forming.forecast.gauges import Gauge
from buckwright.forming.forecast.measured import against, points_of
from buckwright.forming.forecast.measured_findings import about_measured
from buckwright.forming.forecast.result import Forecast
from buckwright.forming.heating.findings import about_heating, about_oven
from buckwright.forming.heating.settings import HeatingSettings
from buckwright.forming.heating.sheet_heating import sheet_layer
from buckwright.forming.heating.slab import Face
from buckwright.forming.sheets.materials import sheet as material_of
from buckwright.forming.zones.findings import about_zones
from buckwright.mesh.reading import sculpt_of
from buckwright.mesh.repair import Repair
from buckwright.mesh.triangles import Mesh
from buckwright.pose.body.findings import BODY, about_growth
from buckwright.pose.entering import enter_sculpt
from buckwright.pose.findings import about_pose, about_setups
from buckwright.pose.halves.findings import about_halves, about_proposal
from buckwright.pose.halves.inserts import Insert
from buckwright.pose.settings import SculptSettings
from buckwright.pose.size.findings import about_size
from buckwright.printing.materials import PRINT_MATERIALS
from buckwright.printing.pieces.findings import about_pieces
from buckwright.printing.pieces.planning import plan_pieces
from buckwright.printing.settings import PrinterSettings, PrintSettings
from buckwright.printing.strength.findings import about_strength
from buckwright.printing.strength.heat import Contact
from buckwright.printing.strength.judging import crushing_mpa, judge_print
from buckwright.printing.strength.settings import StrengthSettings
from buckwright.shape.base.blocks import Block
from buckwright.shape.base.findings import about_base
from buckwright.shape.buck.findings import about_buck
from buckwright.shape.fill.findings import about_fill
from buckwright.shape.hollow.cavity import Cavity
from buckwright.shape.hollow.findings import about_cast, about_no_hollow
from buckwright.shape.hollow.holes import Hole
from buckwright.shape.porous.findings import about_porous
from buckwright.shape.take_up.findings import about_take_up
from buckwright.shape.take_up.seeking import Trial
from buckwright.shape.take_up.taken_up import TakenUp
from buckwright.shape.underside.findings import about_underside
from buckwright.shape.vents.findings import about_vents
from buckwright.shape.vents.settings import VentSettings
from buckwright.stages import all_settings, finding_kinds
from buckwright.stand import Stand
from buckwright.survey.detail.findings import about_detail
from buckwright.survey.detail.measuring import Detail, Place
from buckwright.survey.findings import about_survey
from buckwright.survey.verdict.findings import about_draft, about_verdict
from buckwright.workshop.clearance.findings import about_clearance
from buckwright.workshop.clearance.measuring import NearPlace
from buckwright.workshop.cutting.findings import about_cutting
from buckwright.workshop.cutting.planning import plan_cutting
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.edge.findings import about_holes, about_line, about_printed
from buckwright.workshop.edge.holes import PartHole
from buckwright.workshop.group.findings import about_group
from buckwright.workshop.group.formed.between import Bridge
from buckwright.workshop.group.formed.findings import about_formed
from buckwright.workshop.group.planning import plan_group
from buckwright.workshop.machine.findings import about_machine
from buckwright.workshop.machine.planning import Fit, MachinePlan, plan_suction
from buckwright.workshop.machine.platen import Air, PlatenHoles
from buckwright.workshop.machine.vacuum import Vacuum
from buckwright.workshop.rig.findings import about_rig
from buckwright.workshop.rig.planning import plan_rig

AT = (3.0, -4.0, 5.0)


def entered(size_mm=40.0, notes=()):
    box = trimesh.creation.box((size_mm, size_mm, size_mm))
    sculpt = sculpt_of(Mesh.from_arrays(box.vertices, box.faces), unit="mm")
    given = type(sculpt)(sculpt.mesh, sculpt.format, sculpt.unit_in_file, notes)
    return list(enter_sculpt(given, SculptSettings(), Clock()).findings)


def mended(words, **more):
    return Repair("test", words, 0.0, 12, 12, **more)


def posed(
    *,
    size=(40.0, 30.0, 20.0),
    repairs=(),
    notes=(),
    offset=None,
    sunk_mm=0.0,
    sunk_by_rule=True,
    widest_mm=0.0,
    saves_mm3=0.0,
    added_mm3=None,
):
    entry = Made(repairs=repairs, notes=notes)
    made = Made(
        findings=[],
        entries=[entry],
        mesh=Made(size=np.array(size)),
        offset=offset,
        sunk_mm=sunk_mm,
        sunk_mm3=6200.0,
        sunk_share=0.31,
        sunk_by_rule=sunk_by_rule,
        widest_mm=widest_mm,
        widest_saves_mm3=saves_mm3,
        widest_cuts_mm3=5000.0,
    )
    return about_pose(made, stand=Stand(10.0), added_mm3=added_mm3)


def setups(*costs, searched=True, taken=1):
    offered = [
        Made(cost=cost, note="as it is, on its flat foot", direction=(0.0, 0.0, -1.0)) for cost in costs
    ]
    return about_setups(Made(searched=searched, taken=taken, setups=offered))


def halves(*, locked=0, bodies=1, whole=0.4, hidden=0.05, overlap=6.0, keys=3, inside=0.0):
    free, held = (Made(release=Made(locked=count, widest_mm=4.2 * count)) for count in (0, locked))
    return about_halves(
        Made(
            arrived=Made(findings=(), entered=Made(repairs=(), notes=())),
            halves=(Made(bodies=1), Made(bodies=bodies)),
            surveys=(free, held),
            whole_hidden_share=whole,
            plane=Made(hidden_share=hidden),
            seam=Made(overlap_mm=overlap, step_mm=0.473, keys=keys, key_mm=1.5),
            inserts_of=lambda _name: (),
            inside_mm3=inside,
        )
    )


def growth(*, most=3.0, after=4.0):
    return about_growth(Made(room_mm=4.0, before_mm=1.0, after_mm=after, most_mm=most, share=0.5), true=1.0)


def cleared(*near):
    places = tuple(NearPlace(AT, least, 200.0) for least in near)
    least = min(near, default=3.0)
    return about_clearance(
        Made(places=places, least_mm=least, least_at_mm=AT, wanted_mm=2.0, short_share=0.1)
    )


def line(rises_mm, profile="off"):
    return about_line(rises_mm, profile=profile)


def proposal(*inserts, plane=True):
    halves = Made(
        normal=(0.0, 1.0, 0.0), offset_mm=2.5, hidden_share=0.05, halves=2 * (Made(fill_volume_mm3=20.0),)
    )
    made = Made(hidden_share=0.45, fill_volume_mm3=9000.0, plane=halves if plane else None, inserts=inserts)
    return about_proposal(made, stand=Stand(10.0))


def insert(freed):
    return Insert(AT, 15.0, 27.0, 800.0, 2000.0, 19.0, (-1.0, 0.0, 0.0), freed)


def inwards(*shortfalls, notes=()):
    places = [Made(centre_mm=AT, shortfall_mm=value) for value in shortfalls]
    return Made(distance_mm=0.42, places=places, notes=notes)


def surveyed(*verdicts, tight=0.0, fill_mode="full", keep_tight=False, mark="published", crumbs=0):
    deep = [2.5] * len(verdicts) + [0.2] * crumbs
    regions = [Made(sideways_mm=sideways, centre_mm=AT) for sideways in deep]
    releases = [Made(verdict=verdict, strain=0.094) for verdict in (*verdicts, *["locked"] * crumbs)]
    result = Made(
        undercuts=Made(regions=regions),
        releases=releases,
        states=Made(tight_share=tight),
        wanted_deg=3.0,
    )
    return about_survey(
        result,
        sheet="Polystyrene",
        sheet_mm=1.0,
        strain_limit=0.02,
        strain_mark=mark,
        fill_mode=fill_mode,
        keep_tight=keep_tight,
        stand=Stand(10.0),
    )


def filled(added_mm3=0.0, *, mode="full"):
    return about_fill(mode=mode, added_mm3=added_mm3)


def forecast(
    *,
    offset="",
    vents_known=False,
    flare=None,
    gaps=(),
    gauge=None,
    weakest_mm=0.45,
    ratio=1.6,
    not_known=0.0,
    **changes,
):
    """Of a sheet that lies well everywhere, but for what is changed."""
    state = np.full(6, FREE)
    settings = {"sheet_mm": 1.0, "vents": None, "cell_mm": 2.0, "finest_cell_mm": 0.5, "quality": "fine"}
    settings |= changes.pop("settings", {})
    well = {
        "formed": Made(stopped="", forced=0, state=state, slid_to_mm=None, pressure_per_mm=np.ones(3)),
        "points": np.tile(np.array(AT), (6, 1)),
        "gap_mm": np.full(6, 7.0),
        "gap_to_frame_mm": 60.0,
        "height_mm": 40.0,
        "webs": (),
        "counted_air": (),
        "overlooked_mm": 0.1,
    }
    told = {
        "weakest_mm": weakest_mm,
        "weakest_at_mm": AT,
        "areal_draw_ratio": ratio,
        "mean_mm": 0.62,
        "not_known_share": not_known,
    }
    known = {
        "figures": Made(**told),
        "certain_mm": weakest_mm - 0.02,
        "weakest_words": f"{weakest_mm:.2f} ±0.02 mm",
        "thin_words": "0.50 ±0.03 mm",
    }
    run = Made(settings=Made(**settings), **known, **(well | changes))
    run.overlooks = Forecast.overlooks.fget(run)
    formed = Made(forecast=run, flare=flare, gaps=gaps, gauge=gauge)
    return about_forecast(formed, offset=offset, vents_known=vents_known)


def web(length_mm=18.0, crosses=True):
    return Made(length_mm=length_mm, height_mm=22.0, where_mm=AT, crosses_trim_line=crosses)


def air(left_mm=0.0):
    return Made(volume_mm3=2300.0, last_touched_mm=AT, left_mm=left_mm, depth_mm=4.5)


def flare(clear_mm=3.5, matters=True, margin=4.0, at=None):
    return Made(matters=matters, stands_off_mm=1.7, share=0.8, clear_mm=clear_mm, margin_mm=margin, at_mm=at)


def detail(strokes=None, edges=None):
    one = Place(AT, 0.8, 15.3)
    strokes, edges = (None if count is None else (one,) * count for count in (strokes, edges))
    asked = 0.0 if strokes is None else 1.5, 0.0 if edges is None else 2.0
    return Detail(*asked, strokes, edges, None)


ROW = {"gap_mm": 25.0, "weakest_mm": 0.31, "mean_mm": 0.55, "web_length_mm": 12.0, "blank_area_cm2": 480.0}


def vented(*times, vents=(), dropped=(), notes=(), states=None, off=False, **settings):
    marked = tuple(one for one in vents if one.face.opening == "dimple")
    sizes = Made(channel_depth_mm=2.5)
    face = Made(opening="slot")
    plan = Made(vents=vents, dropped=dropped, notes=notes, to_drill=marked, bores=sizes, face=face)
    pockets = None if off else Made(pockets=[Made(deepest_mm=AT, depth_mm=3.9) for _ in times])
    states = states or tuple("vented" if np.isfinite(time) else "bare" for time in times)
    return about_vents(Made(plan=plan, evacuation_s=times, states=states), pockets, VentSettings(**settings))


def vent(moved_mm=0.0, opening="slot"):
    face = Made(opening=opening, width_mm=0.75)
    return Made(pocket=0, moved_mm=moved_mm, top_mm=AT, face=face, narrow_mm=lambda depth: 58.8)


def grooved(*notes, holes=0, asked=0, vents=3):
    return about_underside(Made(notes=notes, channels=Made(holes=holes)), platen_holes=asked, vents=vents)


def judged(*verdicts, sideways_mm=1.3, fill_mode="full"):
    regions = tuple(Made(sideways_mm=sideways_mm, centre_mm=AT) for _ in verdicts)
    release = Made(
        locked=verdicts.count("locked"),
        regions=regions,
        releases=tuple(Made(verdict=verdict) for verdict in verdicts),
        widest_mm=sideways_mm if verdicts else 0.0,
    )
    return about_verdict(release, fill_mode=fill_mode, free_mm=0.1, lift_mm=17.0)


def short_of_draft(share, *, places=1, filled=True):
    short = Made(
        area_mm2=48.0,
        share=share,
        wanted_deg=3.0,
        places=[Made(centre_mm=AT, area_mm2=31.0, least_deg=1.4)] * places,
    )
    return about_draft(short, filled=filled, lift_mm=17.0)


def drained(*times, pools=(), again=None, bridged=()):
    second = None if again is None else Made(trapped_air=again)
    causes = ("a hair is in the way",) * len(bridged)
    bare = tuple(pool for pool, seconds in zip(pools, times, strict=False) if not np.isfinite(seconds))
    told = Made(evacuation_s=times, vented=second, bridged=bridged, causes=causes, unvented=bare)
    return about_drainage(told, Made(trapped_air=pools), target_s=0.5)


def heated(*, works=True, latest_s=48.0, least=2.5, hold_s=7.0, thickness_mm=1.5, **settings):
    told = Made(
        works=works,
        strength="flux_kw_m2",
        least=least,
        greatest=12.39,
        earliest_s=60.0,
        latest_s=latest_s,
        chosen_s=40.0,
        hold_s=hold_s,
    )
    return about_heating(told, material_of("PETG"), thickness_mm, HeatingSettings(**settings))


PLACE = "x 3, y -4, z 5 mm"


#: slug, severity, figures in the words, findings with it, findings without it
def drilled(kind="rivet", wide=3.2, *, away=30.0, off=0.0):
    up = np.array([0.0, 0.0, 1.0])
    hole = PartHole(kind, np.array(AT), up, np.array([1.0, 0.0, 0.0]), wide, wide, off)
    return about_holes([hole], [away])


def rigged(**changed):
    given = {
        "base_mm": (120.0, 90.0),
        "height_mm": 50.0,
        "opening_mm": (200.0, 170.0),
        "grip_mm": 15.0,
        "reducing": True,
        "platen_mm": (600.0, 600.0),
        "dead_mm": 6.0,
        "gasket_width_mm": 10.0,
    }
    return about_rig(plan_rig(**(given | changed)), trim_z_mm=18.0, flange_z_mm=6.0)


def fitted(air=(True, True), suction=None, holes=True, sheet_mm=1.0, vacuum="cleaner", **changed):
    """A buck on a machine that it fits."""
    given = {
        "base_mm": (120.0, 90.0),
        "height_mm": 50.0,
        "platen_mm": (300.0, 200.0),
        "round_platen": False,
        "reach_mm": 150.0,
        "opening_mm": (200.0, 170.0),
        "passes": True,
        "opening_fits": True,
        "most_mm": 100.0,
        "dead_mm": 6.0,
        "sag_mm": 40.0,
        "sag_room_mm": 60.0,
        "blank_mm": (230.0, 200.0),
        "oven_mm": (300.0, 300.0),
    }
    grid = np.zeros((4, 2))
    plan = MachinePlan(
        title="A machine",
        source="",
        mark="",
        fit=Fit(**(given | changed)),
        suction=suction,
        holes=PlatenHoles(grid, 3.0, np.zeros(4, bool), np.zeros(4, bool)) if holes else None,
        air=Air(np.array(air), 0),
        plated=False,
        gives={},
    )
    return about_machine(plan, sheet_mm=sheet_mm, vacuum=vacuum)


def drawn(flow_l_min=400.0, tank_l=0.0, lowest_kpa=5.0):
    vacuum = Vacuum(
        kind="pump",
        flow_l_min=flow_l_min,
        lowest_kpa=lowest_kpa,
        box_l=5.0,
        tank_l=tank_l,
        tank_kpa=10.0,
    )
    return plan_suction(vacuum, under_sheet_l=1.0, base_mm2=1e4, target_kpa=20.265)


def group(copies, spacing_mm=43.75):
    plan = plan_group((80.0, 55.0), copies, spacing_mm=spacing_mm, edge_mm=25.0, opening_mm=(280.0, 220.0))
    return about_group(plan, height_mm=25.0)


def group_formed(webs=0, lowest_mm=4.0, weakest_mm=0.4, alone_mm=0.42):
    """Three bucks with a trim line at 17 mm."""
    web = Made(length_mm=42.0, height_mm=23.0)
    told = Made(
        between=(web,) * webs,
        bridges=(Bridge(1, 2, 44.0, (0.0, 0.0), lowest_mm),),
        trim_mm=17.0,
        forecast=Made(figures=Made(weakest_mm=weakest_mm)),
    )
    return about_formed(told, alone_mm)


def zoned(after_s=40.0, latest_s=50.0, earliest_s=35.0, cut_off=False):
    at_once = earliest_s <= latest_s and np.isfinite(earliest_s)
    told = Made(at_once=at_once, after_s=after_s, earliest_s=earliest_s, latest_s=latest_s, cut_off=cut_off)
    return about_zones(told, material_of("PETG"))


def in_oven(zones, heat_map="", heater="oven"):
    return about_oven(HeatingSettings(heater=heater), zones=zones, heat_map=heat_map)


def bound(places=0, handles=0):
    missed = np.array([AT, (30.0, 0.0, 5.0)])[:places]
    return about_printed([Made(tight_mm=missed, handles=handles)])


def cut(blank_mm):
    plan = plan_cutting(blank_mm, StockSettings(), thickness_mm=1.0, density_kg_m3=1040.0, gap_mm=40.0)
    return about_cutting(plan)


def in_pieces(beads=((0.0, 0.0, 5.0, 1.0),), size=(320.0, 80.0, 40.0), cast=False, **printer):
    settings = PrinterSettings(**printer)
    made = plan_pieces(
        Manifold.cube(size).translate((-size[0] / 2.0, -size[1] / 2.0, 0.0)),
        beads=np.array(beads),
        detail_above_mm=0.0,
        printed=PrintSettings(),
        printer=settings,
    )
    return about_pieces(made, settings, cast=cast)


def to_be_cast():
    pour, air = Hole(0.0, 0.0, 25.0), Hole(17.0, 17.0, 4.0)
    cube = Manifold.cube((40.0, 40.0, 40.0)).translate((-20.0, -20.0, 4.0))
    return about_cast(Cavity(cube, 0.0, pours=(pour,), airs=(air,)))


def printed(thickness_mm=0.5, hold_s=2.0, **changed):
    layer = sheet_layer(material_of("HIPS"), thickness_mm)
    meets = Contact(sheet=layer, sheet_c=150.0, hold_s=hold_s, rest_s=90.0, room=Face(transfer_w_m2k=10.0))
    strength = StrengthSettings()
    judged = judge_print(
        PrintSettings(**changed),
        strength,
        footprint_mm2=1e4,
        standing_mm2=9e3,
        contact=meets,
        buck_c=25.0,
    )
    return about_strength(judged, strength)


_CRUSHING = f"{1e3 * crushing_mpa(PRINT_MATERIALS['PLA'], 0.05):.0f} kPa"
_ROW_OF_BORES = tuple((float(x), 0.0, 5.0, 1.0) for x in range(-150, 151, 4))

BLOCKS = tuple(
    Block(x_mm=x, y_mm=y, top_mm=25.0, radius_mm=3.0, draft_deg=5.0)
    for x in (30.0, -30.0)
    for y in (20.0, -20.0)
)


def blocked(**changed):
    """Findings of take-up blocks: 152 mm of webs without, 68 mm with."""
    trial = Trial(offset_mm=0.0, radius_mm=3.0, top_mm=25.0, blocks=4, length_mm=140.0, over_mm=60.0)
    told = {"blocks": (), "given": False, "webs": 4, "before_mm": 152.0, "after_mm": 68.0}
    told |= {"over_before_mm": 46.0, "over_after_mm": 44.0, "trials": (trial,)} | changed
    return about_take_up(TakenUp(**told), trim_mm=30.0)


CASES = [
    (
        "take-up-blocks",
        "note",
        ("4 take-up blocks", "68 mm", "44 mm", "152 and 46 mm"),
        lambda: blocked(blocks=BLOCKS),
        lambda: blocked(after_mm=152.0),
    ),
    (
        "take-up-blocks",
        "warn",
        ("as given", "180 mm", "152 and 46 mm"),
        lambda: blocked(blocks=BLOCKS, given=True, after_mm=180.0),
        lambda: blocked(webs=0, before_mm=0.0, after_mm=0.0),
    ),
    (
        "no-take-up-block",
        "note",
        ("1 arrangement", "140 mm", "60 mm of it above", "152 and 46 mm"),
        lambda: blocked(after_mm=152.0),
        lambda: blocked(blocks=BLOCKS),
    ),
    (
        "porous-top",
        "note",
        ("12 cm2", "20 %"),
        lambda: about_porous(open_mm2=1200.0, infill_share=0.2, split=False),
        lambda: about_porous(open_mm2=None, infill_share=0.2, split=False),
    ),
    (
        "porous-top",
        "warn",
        ("pieces",),
        lambda: about_porous(open_mm2=1200.0, infill_share=0.2, split=True),
        lambda: about_porous(open_mm2=None, infill_share=0.2, split=True),
    ),
    (
        "no-porous-top",
        "warn",
        ("flat and wide enough",),
        lambda: about_porous(open_mm2=None, infill_share=0.2, split=False),
        lambda: about_porous(open_mm2=1200.0, infill_share=0.2, split=False),
    ),
    (
        "nothing-to-hollow",
        "note",
        ["4 mm"],
        lambda: about_no_hollow(4.0),
        to_be_cast,
    ),
    (
        "cast-before-use",
        "note",
        ["64 cm3", "1 pour hole of up to 25 mm", "1 air hole lets"],
        to_be_cast,
        lambda: about_no_hollow(4.0),
    ),
    (
        "joint-near-vent",
        "warn",
        ["1.0 mm", "5 mm are wanted"],
        lambda: in_pieces(_ROW_OF_BORES, bed_mm=(210.0, 92.0)),
        lambda: in_pieces(bed_mm=(210.0, 210.0)),
    ),
    (
        "joint-without-pins",
        "note",
        ["1 joint of 1"],
        lambda: in_pieces(size=(320.0, 80.0, 8.0), bed_mm=(210.0, 210.0)),
        lambda: in_pieces(bed_mm=(210.0, 210.0)),
    ),
    (
        "glue-before-casting",
        "note",
        ["2 pieces that meet at their walls alone"],
        lambda: in_pieces(bed_mm=(210.0, 210.0), cast=True),
        lambda: in_pieces(bed_mm=(400.0, 210.0), cast=True),
    ),
    (
        "sliver-at-split",
        "note",
        ["1 sliver", "1800 mm\u00b3 at x 0, y 0, z 40 mm", "stays on"],
        lambda: in_pieces(bed_mm=(210.0, 210.0), size=(60.0, 60.0, 40.0), planes_mm=((0, 0, 1, 39.5),)),
        lambda: in_pieces(bed_mm=(210.0, 210.0), size=(60.0, 60.0, 40.0), planes_mm=((0, 0, 1, 20.0),)),
    ),
    (
        "piece-without-letter",
        "note",
        ["underneath A, B"],
        lambda: in_pieces(size=(320.0, 6.0, 40.0), bed_mm=(210.0, 210.0)),
        lambda: in_pieces(bed_mm=(210.0, 210.0)),
    ),
    (
        "larger-than-usual-bed",
        "note",
        ["320 x 80 x 40 mm"],
        in_pieces,
        lambda: in_pieces(size=(200.0, 80.0, 40.0)),
    ),
    (
        "print-softens",
        "note",
        ["PLA softens from 55", "1 pull in a row"],
        lambda: printed(1.5, 13.0),
        printed,
    ),
    ("print-softens", "warn", ["does not bear one pull"], lambda: printed(2.0, 30.0), printed),
    ("infill-crushed", "warn", [_CRUSHING, "101 kPa"], lambda: printed(infill_share=0.05), printed),
    (
        "skin-dented",
        "warn",
        ["0.6 mm bends", "18 mm apart"],
        lambda: printed(infill_share=0.05, shell_mm=0.6),
        printed,
    ),
    ("mask-plate", "note", ["60 mm"], lambda: rigged(platen_mm=None), rigged),
    ("hole-near-edge", "warn", ["4.0 mm", "10 mm"], lambda: drilled(away=4.0), drilled),
    ("hole-near-edge", "warn", ["20.0 mm", "29 mm"], lambda: drilled("fan", 38.0, away=20.0), drilled),
    ("hole-trimmed-off", "warn", ["Hole 1 (rivet hole) lies below"], lambda: drilled(away=-3.0), drilled),
    ("hole-off-buck", "warn", ["12 mm"], lambda: drilled(off=12.0), drilled),
    ("mask-plate", "warn", ["8 mm of plate"], lambda: rigged(platen_mm=(230.0, 230.0)), rigged),
    ("dead-height", "stop", ["20.0 mm", "18.0 mm"], lambda: rigged(dead_mm=20.0), rigged),
    ("dead-height", "note", ["3.0 mm"], lambda: rigged(dead_mm=9.0), rigged),
    ("own-frame", "note", ["180 x 210", "30 mm"], lambda: rigged(owned_mm=((180.0, 210.0),)), rigged),
    ("frame-too-small", "stop", ["110 x 170"], lambda: rigged(opening_mm=(110.0, 170.0)), rigged),
    ("machine-fit", "stop", ["120 x 90", "80 x 200"], lambda: fitted(platen_mm=(80.0, 200.0)), fitted),
    (
        "machine-fit",
        "stop",
        ["150 mm across", "140 mm"],
        lambda: fitted(platen_mm=(140.0, 140.0), round_platen=True),
        lambda: fitted(platen_mm=(150.0, 150.0), round_platen=True),
    ),
    ("machine-fit", "stop", ["120 x 90"], lambda: fitted(passes=False), fitted),
    ("machine-fit", "stop", ["50.0 mm", "6.0 mm", "45 mm"], lambda: fitted(most_mm=45.0), fitted),
    ("machine-fit", "warn", ["200 x 170"], lambda: fitted(opening_fits=False), fitted),
    ("machine-fit", "warn", ["230 x 200", "220 x 220"], lambda: fitted(oven_mm=(220.0, 220.0)), fitted),
    ("sag-room", "warn", ["40 mm", "30 mm"], lambda: fitted(sag_room_mm=30.0), fitted),
    ("weak-vacuum", "warn", ["6.0 l", "20.3 kPa"], lambda: fitted(suction=drawn(10.0)), fitted),
    (
        "weak-vacuum",
        "warn",
        ["never"],
        lambda: fitted(suction=drawn(lowest_kpa=30.0)),
        lambda: fitted(suction=drawn()),
    ),
    (
        "weak-vacuum",
        "warn",
        ["36.1 kPa", "20.3 kPa"],
        lambda: fitted(suction=drawn(tank_l=15.0)),
        lambda: fitted(suction=drawn(tank_l=60.0)),
    ),
    ("vents-blocked", "warn", ["1 vent of 2"], lambda: fitted(air=(True, False)), fitted),
    (
        "group-too-large",
        "stop",
        ["6 bucks", "302.5 x 253.75", "377.5 x 203.75", "43.75 mm", "280 x 220", "4 fit"],
        lambda: group(6),
        lambda: group(4),
    ),
    (
        "group-too-close",
        "warn",
        ["20 mm apart", "25 mm tall"],
        lambda: group(4, 20.0),
        lambda: group(4, 25.0),
    ),
    (
        "webs-between-bucks",
        "warn",
        ["2 webs", "42 mm", "23 mm"],
        lambda: group_formed(webs=2),
        group_formed,
    ),
    (
        "bridges-between-bucks",
        "warn",
        ["bucks 1 and 2", "44 mm", "18 mm", "17 mm"],
        lambda: group_formed(lowest_mm=18.0),
        lambda: group_formed(lowest_mm=17.0),
    ),
    (
        "thinner-in-a-group",
        "note",
        ["0.40 mm", "0.45 mm"],
        lambda: group_formed(alone_mm=0.45),
        lambda: group_formed(alone_mm=0.44),
    ),
    (
        "zones-need-another-time",
        "warn",
        ["30 s", "35 s to 50 s"],
        lambda: zoned(after_s=30.0),
        zoned,
    ),
    ("zones-too-uneven", "warn", ["30 s", "166 °C"], lambda: zoned(latest_s=30.0), zoned),
    (
        "zones-too-uneven",
        "warn",
        ["never reaches 121 °C throughout."],
        lambda: zoned(latest_s=np.inf, earliest_s=np.inf),
        zoned,
    ),
    ("zones-beyond-forecast", "note", ["colder or hotter"], lambda: zoned(cut_off=True), zoned),
    ("oven-without-zones", "warn", ["evenly warm"], lambda: in_oven("1 0.8"), lambda: in_oven("")),
    (
        "oven-without-zones",
        "warn",
        ["left out"],
        lambda: in_oven("1 0.8", heat_map="1 0.9"),
        lambda: in_oven("1 0.8", heater="radiant"),
    ),
    ("printed-edge-too-tight", "note", ["2 places"], lambda: bound(2), bound),
    ("printed-edge-too-tight", "note", ["1 opening"], lambda: bound(0, 1), bound),
    ("platen-holes-unknown", "note", [], lambda: fitted(holes=False), fitted),
    ("thick-for-a-cleaner", "warn", ["2 mm"], lambda: fitted(sheet_mm=2.0), fitted),
    (
        "thick-for-a-cleaner",
        "warn",
        ["2 mm"],
        lambda: fitted(sheet_mm=2.0),
        lambda: fitted(sheet_mm=2.0, vacuum="pump"),
    ),
    ("sheet-beyond-data", "note", ["3.5 mm", "3 mm"], lambda: heated(thickness_mm=3.5), heated),
    ("sheet-waste", "note", ["instead of 3"], lambda: cut((340.0, 340.0)), lambda: cut((605.0, 605.0))),
    ("stock-too-small", "warn", ["700 x 650"], lambda: cut((700.0, 650.0)), lambda: cut((300.0, 240.0))),
    (
        "surface-burns-first",
        "warn",
        ["1.5 mm PETG", "166 °C after 48 s", "121 °C (after 60 s)"],
        lambda: heated(works=False),
        heated,
    ),
    ("surface-burns-first", "warn", ["166 °C"], lambda: heated(works=False, least=np.nan), heated),
    ("sheet-stays-cold", "warn", ["121 °C"], lambda: heated(works=False, latest_s=np.inf), heated),
    ("sheet-cools-on-the-way", "warn", ["7.0 s", "9 s"], lambda: heated(carry_s=9.0), heated),
    ("doubtful-size", "warn", ["0.04 x 0.04 x 0.04", "x 1000"], lambda: entered(0.04), entered),
    ("file-note", "note", ["2 bodies"], lambda: entered(notes=("The file holds 2 bodies.",)), entered),
    ("mesh-repair", "note", ["3 holes"], lambda: posed(repairs=[mended("Closed 3 holes.")]), posed),
    (
        "mesh-repair",
        "warn",
        ["0.4 mm", "15"],
        lambda: posed(repairs=[mended("Rebuilt.", warning="The surface moved by 0.4 mm.", at_mm=AT)]),
        posed,
    ),
    ("mesh-repair", "warn", ["0.4 mm"], lambda: posed(notes=["The surface moved by 0.4 mm."]), posed),
    ("tall-part", "warn", ["1.5 times"], lambda: posed(size=(40, 30, 45)), lambda: posed(size=(40, 30, 30))),
    ("offset", "note", ["0.42 mm", "30 %"], lambda: posed(offset=inwards()), posed),
    (
        "offset",
        "warn",
        ["0.42 mm", "2 places", "x 3, y -4, z 15 mm", "0.31 mm"],
        lambda: posed(offset=inwards(0.31, 0.2)),
        posed,
    ),
    (
        "undercuts",
        "note",
        ["3 trapped regions", "1 locked", "1 can be flexed", "1 release freely", "2.5 mm", "9.4%", "2.0%"],
        lambda: surveyed("locked", "flexes off", "comes off"),
        surveyed,
    ),
    (
        "undercuts",
        "note",
        ["Before fill, the sculpt has 1 trapped region: 1 locked", "2 crumbs less than 0.25 mm deep"],
        lambda: surveyed("locked", crumbs=2),
        surveyed,
    ),
    (
        "undercuts",
        "warn",
        ["The sculpt has 2 trapped regions: 2 locked, 0 can be flexed off, 0 release freely. "],
        lambda: surveyed(crumbs=2, fill_mode="none"),
        surveyed,
    ),
    ("undercuts", "warn", ["1 locked"], lambda: surveyed("locked", fill_mode="none"), surveyed),
    ("undercuts", "note", ["0 locked"], lambda: surveyed("flexes off", fill_mode="none"), surveyed),
    ("undercuts", "note", ["from memory"], lambda: surveyed("locked", mark="from memory"), surveyed),
    ("releases", "note", [], surveyed, lambda: surveyed("comes off")),
    (
        "tight-faces",
        "note",
        ["12 %", "3 degrees", "Polystyrene"],
        lambda: surveyed(tight=0.12),
        lambda: surveyed(tight=0.004),
    ),
    ("tight-faces", "note", ["12 %"], lambda: surveyed(tight=0.12, keep_tight=True), surveyed),
    ("tight-faces", "note", ["12 %"], lambda: surveyed(tight=0.12, fill_mode="none"), surveyed),
    ("fill-volume", "note", ["4.2 cm3"], lambda: filled(4200.0), lambda: filled(0.9)),
    ("fill-volume", "note", ["4.2 cm3"], lambda: filled(4200.0), lambda: filled(4200.0, mode="none")),
    (
        "sinking-saves",
        "note",
        ["8 mm of height", "3 cm3 of fill", "cuts off 5 cm3"],
        lambda: posed(added_mm3=9000.0, widest_mm=8.4, saves_mm3=3100.0),
        lambda: posed(added_mm3=9000.0, widest_mm=8.4, saves_mm3=1700.0),
    ),
    (
        "tall-part",
        "warn",
        ["1.5 times", "saves 8 mm of height", "3 cm3 of fill"],
        lambda: posed(size=(40, 30, 45), widest_mm=8.4, saves_mm3=3100.0),
        lambda: posed(added_mm3=9000.0, widest_mm=8.4, saves_mm3=3100.0),
    ),
    (
        "sunk",
        "note",
        ["4.0 of its 24.0 mm", "6.2 cm3", "31 %"],
        lambda: posed(sunk_mm=4.0),
        lambda: posed(sunk_mm=4.0, sunk_by_rule=False),
    ),
    ("close-setups", "note", ["-Z", "flat foot"], lambda: setups(0.50, 0.52), lambda: setups(0.50, 0.53)),
    ("close-setups", "note", [], lambda: setups(0.5, 0.5), lambda: setups(0.5, 0.5, taken=2)),
    ("close-setups", "note", [], lambda: setups(0.5, 0.5), lambda: setups(0.5, 0.5, searched=False)),
    (
        "scaled-to-measure",
        "note",
        ["1.25", "560.0 mm"],
        lambda: about_size(1.25, "the girth is 560.0 mm"),
        lambda: about_size(1.0, ""),
    ),
    (
        "body-note",
        "note",
        ["In the body", "2 faces"],
        lambda: [BODY.found("note", "In the body: removed 2 faces without area.")],
        lambda: (),
    ),
    ("grown-to-clearance", "note", ["3.0 mm", "50 %", "1.0"], growth, lambda: growth(most=0.0)),
    ("grown-to-clearance", "warn", ["3.5 mm"], lambda: growth(after=3.5), lambda: growth(most=0.0)),
    (
        "grown-to-clearance",
        "warn",
        ["no more than 30 mm"],
        lambda: growth(most=30.0, after=1.5),
        lambda: growth(most=0.0),
    ),
    ("body-touches", "warn", ["1.2 mm", "2.0 cm2"], lambda: cleared(-1.2), lambda: cleared(1.0)),
    ("body-touches", "warn", ["2 further places"], lambda: cleared(*[-0.2] * 8), lambda: cleared(1.0)),
    ("body-clearance", "warn", ["1.0 mm", "2 mm", "1 place"], lambda: cleared(1.0), lambda: cleared(-1.0)),
    ("body-clearance", "note", ["at least 3.0 mm"], cleared, lambda: cleared(-1.0)),
    ("trim-line-rises", "note", ["7.5 mm"], lambda: line(7.5), lambda: line(0.0)),
    ("trim-line-rises", "warn", ["left out"], lambda: line(7.5, "u"), lambda: line(0.0)),
    (
        "halves-show-more",
        "note",
        ["45 %", "9 cm3", "+Y at 2.5 mm", "5.0 %", "less than 0.1 cm3"],
        proposal,
        lambda: proposal(plane=False),
    ),
    ("loose-insert", "note", ["15.0 mm", "8 cm2", "2 cm3"], lambda: proposal(insert(1.0)), proposal),
    ("loose-insert", "note", [], lambda: proposal(insert(0.5)), proposal),
    ("half-locks", "warn", ["Half B", "1 place", "4.2 mm"], lambda: halves(locked=1), halves),
    ("half-in-pieces", "warn", ["Half B", "2 bodies"], lambda: halves(bodies=2), halves),
    ("shell-closed", "note", ["4402 cm3"], lambda: halves(inside=4_401_747.0), halves),
    ("halving-gains", "note", ["40 %", "5.0 %"], halves, lambda: halves(whole=float("nan"))),
    ("halving-gains", "warn", ["6.0 %"], lambda: halves(whole=0.06), lambda: halves(whole=float("nan"))),
    ("seam-overlap", "note", ["6 mm", "0.47 mm", "3 keys"], halves, lambda: halves(overlap=0.0)),
    ("seam-overlap", "note", ["no room for keys"], lambda: halves(keys=0), lambda: halves(overlap=0.0)),
    (
        "base-measures",
        "note",
        ["2.0 mm", "1.6 mm"],
        lambda: about_base(("root fillet 2.0 mm reduced to 1.6 mm to fit the riser",)),
        lambda: about_base(()),
    ),
    (
        "unfinished-forecast",
        "warn",
        ["900 steps", "40%"],
        lambda: forecast(formed=_formed(stopped="stopped after 900 steps at 40% of the pressure")),
        forecast,
    ),
    (
        "unfinished-forecast",
        "warn",
        ["900 steps", "frame 12 mm up"],
        lambda: forecast(
            formed=_formed(stopped="stopped after 900 steps with the frame 12 mm up", pressure=0.0)
        ),
        forecast,
    ),
    (
        "unfinished-forecast",
        "warn",
        ["frame 12 mm over the platen", "sticks"],
        lambda: forecast(formed=_formed(slid_to_mm=12.0)),
        forecast,
    ),
    (
        "measured-thickness",
        "note",
        ["0.80 times", "1 point", "brow 0.40/0.50"],
        lambda: about_measured(against(points_of("brow 0.4 at 1 2 3"), [0.5]), "brow 0.4 at 1 2 3"),
        lambda: about_measured(None, ""),
    ),
    (
        "measured-thickness",
        "warn",
        ["buck's frame"],
        lambda: about_measured(None, "brow 0.4 at 1 2 3"),
        lambda: about_measured(None, ""),
    ),
    ("unfinished-forecast", "note", ["2 loads"], lambda: forecast(formed=_formed(forced=2)), forecast),
    (
        "overdrawn",
        "warn",
        [PLACE, "1/25", "2 nodes", "7 mm"],
        lambda: forecast(formed=_formed(lost=2)),
        forecast,
    ),
    (
        "weakest-spot",
        "warn",
        ["0.24 ±0.02 mm of 1 mm", "24%", "disc of 10 mm", PLACE, "5% of the part is thinner than 0.50 ±0.03"],
        lambda: forecast(weakest_mm=0.24),
        lambda: [f for f in forecast(weakest_mm=0.26) if f.severity == "warn"],
    ),
    (
        "weakest-spot",
        "note",
        ["0.26 ±0.02 mm of 1 mm", "26%"],
        lambda: forecast(weakest_mm=0.26),
        lambda: [
            f for f in forecast(weakest_mm=0.24) if f.words.startswith("Weakest") and f.severity == "note"
        ],
    ),
    (
        "weakest-spot",
        "note",
        ["1.5 mm instead of 1 mm", "0.38 ±0.05 mm", "tried"],
        lambda: forecast(weakest_mm=0.31, gauge=Gauge(1.5, 0.38, 0.05)),
        lambda: [f for f in forecast(weakest_mm=0.32) if "instead of" in f.words],
    ),
    (
        "weakest-spot",
        "note",
        ["No usual sheet", "0.3 mm", PLACE],
        lambda: forecast(weakest_mm=0.05),
        lambda: [f for f in forecast(gauge=Gauge(1.5, 0.4, 0.1)) if "No usual" in f.words],
    ),
    (
        "not-known-at-folds",
        "note",
        ["On 3% of the part", "not known (fold)"],
        lambda: forecast(not_known=0.03),
        lambda: forecast(not_known=0.01),
    ),
    (
        "draw-ratio",
        "warn",
        ["3.4 times", "about 3"],
        lambda: forecast(ratio=3.4),
        lambda: forecast(ratio=2.9),
    ),
    (
        "narrow-gap",
        "note",
        ["25 mm", "40 mm"],
        lambda: forecast(gap_to_frame_mm=25.0),
        lambda: forecast(gap_to_frame_mm=40.0),
    ),
    ("web", "warn", ["18 mm", "z 22 mm", PLACE], lambda: forecast(webs=(web(),)), forecast),
    ("web", "note", ["below the trim line"], lambda: forecast(webs=(web(crosses=False),)), forecast),
    ("web", "note", ["1 smaller web is not"], lambda: forecast(webs=(web(),) * 5), forecast),
    ("web", "note", ["2 smaller webs are not"], lambda: forecast(webs=(web(),) * 6), forecast),
    (
        "trapped-air",
        "warn",
        ["1 place of at least 0.4 ml", "2.3 ml"],
        lambda: forecast(counted_air=(air(),)),
        forecast,
    ),
    (
        "trapped-air",
        "warn",
        ["2 places", "4.6 ml", "over 1 of them"],
        lambda: forecast(counted_air=(air(0.9), air()), settings={"vents": 3}),
        lambda: forecast(counted_air=(air(0.9),), settings={"vents": 3}, vents_known=True),
    ),
    (
        "trapped-air",
        "note",
        ["1 place of at least 0.4 ml", "2.3 ml"],
        lambda: forecast(counted_air=(air(0.4),), settings={"vents": 3}),
        forecast,
    ),
    (
        "finer-than-forecast",
        "note",
        ["0.5 to 2.0 mm", "0.6 mm"],
        lambda: forecast(overlooked_mm=0.6),
        lambda: forecast(overlooked_mm=0.4),
    ),
    (
        "flared-edge",
        "note",
        ["1.7 mm", "80%"],
        lambda: forecast(flare=flare()),
        lambda: forecast(flare=flare(matters=False)),
    ),
    ("flared-edge", "note", ["1.7 mm"], lambda: forecast(flare=flare(clear_mm=None)), forecast),
    (
        "flared-edge",
        "note",
        ["2.5 mm over the flare", "less than 4 mm", PLACE],
        lambda: forecast(flare=flare(matters=False, margin=2.5, at=AT)),
        lambda: forecast(flare=flare(matters=False)),
    ),
    (
        "narrow-strokes",
        "note",
        ["6 strokes narrower than 1.5 mm", "0.8 mm lost", PLACE, "and 2 more"],
        lambda: about_detail(detail(strokes=6)),
        lambda: about_detail(detail(strokes=0)),
    ),
    (
        "sharp-edges",
        "warn",
        ["sharper than 2 mm in 1 place", "about 16 mm", PLACE],
        lambda: about_detail(detail(edges=1)),
        lambda: about_detail(detail(edges=0)),
    ),
    (
        "detail-not-checked",
        "note",
        ["too large to look for strokes of 1.5 mm"],
        lambda: about_detail(Detail(1.5, 0.0, None, None, None)),
        lambda: about_detail(Detail(0.0, 0.0, None, None, None)),
    ),
    ("formed-thickness", "note", ["0.62 mm"], lambda: forecast(offset="outside"), forecast),
    (
        "gaps-compared",
        "note",
        ["25 mm: weakest 0.31, mean 0.55, webs 12, blank 480 cm2"],
        lambda: forecast(gaps=(ROW,)),
        forecast,
    ),
    ("vents-off", "warn", [], lambda: vented(off=True, enabled=False), lambda: vented(0.1)),
    (
        "pocket-without-vent",
        "warn",
        ["1 air pocket", "3.9 mm", PLACE],
        lambda: vented(0.1, np.inf),
        lambda: vented(0.1),
    ),
    (
        "pocket-without-vent",
        "warn",
        ["2 air pockets have", PLACE],
        lambda: vented(np.inf, np.inf, at_mm=[AT]),
        lambda: vented(0.1, at_mm=[AT]),
    ),
    (
        "pocket-without-vent",
        "warn",
        ["1 air pocket has", PLACE],
        lambda: vented(0.1, np.inf, at_mm=[AT]),
        lambda: vented(0.1, at_mm=[AT]),
    ),
    (
        "pocket-shares-vent",
        "note",
        ["1 air pocket shares"],
        lambda: vented(0.1, np.inf, states=("vented", "shared")),
        lambda: vented(0.1, np.inf),
    ),
    (
        "vents-to-drill",
        "warn",
        ["2 vents wait", "58.8 mm", PLACE],
        lambda: vented(0.1, vents=(vent(opening="dimple"), vent(), vent(opening="dimple"))),
        lambda: vented(0.1, vents=(vent(),)),
    ),
    (
        "vents-to-drill",
        "warn",
        ["6 vents wait", "and 1 more"],
        lambda: vented(0.1, vents=(vent(opening="dimple"),) * 6),
        lambda: vented(0.1, vents=(vent(),)),
    ),
    (
        "vents",
        "note",
        ["1 vent drains 1 air pocket", "of 3 pockets 1 to drill and 1 bare"],
        lambda: vented(0.1, 0.1, np.inf, vents=(vent(),), states=("vented", "to drill", "bare")),
        lambda: vented(off=True, enabled=False),
    ),
    (
        "slow-evacuation",
        "warn",
        ["1 pocket needs", "0.7 s", "target 0.5 s"],
        lambda: vented(0.2, 0.7),
        lambda: vented(0.5),
    ),
    (
        "slow-evacuation",
        "warn",
        ["2 pockets need", "0.9 s", "target 0.6 s"],
        lambda: vented(0.9, 0.7, target_s=0.6),
        lambda: vented(0.9, target_s=0.9),
    ),
    (
        "vents",
        "note",
        ["2 vents drain 1 air pocket"],
        lambda: vented(0.1, vents=(vent(), vent())),
        lambda: vented(off=True, enabled=False),
    ),
    (
        "placed-vent",
        "warn",
        [PLACE, "too thin"],
        lambda: vented(0.1, dropped=((*AT, 0, "the solid is too thin there"),), at_mm=[AT]),
        lambda: vented(0.1, dropped=((*AT, -1, "the solid is too thin there"),), at_mm=[AT]),
    ),
    (
        "placed-vent",
        "note",
        ["1.2 mm", PLACE],
        lambda: vented(0.1, vents=(vent(1.2),), at_mm=[AT]),
        lambda: vented(0.1, vents=(vent(1.2),)),
    ),
    ("vent-openings", "note", ["4 vents"], lambda: vented(0.1, notes=("4 vents are slots.",)), vented),
    (
        "platen-holes",
        "note",
        ["2 holes"],
        lambda: grooved(holes=2, asked=3),
        lambda: grooved(holes=0, asked=0),
    ),
    ("platen-holes", "warn", ["3 holes"], lambda: grooved(asked=3), lambda: grooved(asked=3, vents=0)),
    ("underside", "note", ["1 of 2 fixings"], lambda: grooved("only 1 of 2 fixings fit"), grooved),
    (
        "unsound-buck",
        "warn",
        ["2 pairs", "the deepest crossing is at x 1, y 2, z 3 mm"],
        lambda: about_buck(watertight=True, crossing_pairs=2, crossing_at_mm=(1.0, 2.0, 3.4)),
        lambda: about_buck(watertight=True, crossing_pairs=0),
    ),
    (
        "unsound-buck",
        "warn",
        ["not watertight"],
        lambda: about_buck(watertight=False, crossing_pairs=0),
        lambda: about_buck(watertight=True, crossing_pairs=0),
    ),
    (
        "vents-against-forecast",
        "note",
        ["1 of 2 places", PLACE, "up to 2.3 ml"],
        lambda: drained(np.inf, 0.1, pools=(air(), air())),
        lambda: drained(0.2, 0.1, pools=(air(), air())),
    ),
    (
        "vents-against-forecast",
        "note",
        ["1 place needs", "0.8 s", "target 0.5 s"],
        lambda: drained(0.8, 0.1, pools=(air(), air())),
        lambda: drained(0.4, 0.1, pools=(air(), air())),
    ),
    ("vents-against-forecast", "note", ["settles everywhere"], lambda: drained(again=(air(),)), drained),
    (
        "vents-against-forecast",
        "warn",
        ["2 places", "x 3, y -4, z 5 mm (2.3 ml, 0.9 mm off", "a hair is in the way"],
        lambda: drained(again=(air(0.9), air(0.8)), bridged=(air(0.9), air(0.8))),
        drained,
    ),
    (
        "vents-against-forecast",
        "warn",
        ["and 2 more, in the report."],
        lambda: drained(again=(air(0.9),), bridged=6 * (air(0.9),)),
        lambda: [f for f in drained(again=(air(0.9),), bridged=4 * (air(0.9),)) if "more, in" in f.words],
    ),
    (
        "part-locks",
        "stop",
        ["1 place", "1.3 mm", "x 3, y -4, z 22 mm"],
        lambda: judged("flexes off", "locked"),
        lambda: judged("flexes off"),
    ),
    (
        "artwork-limits",
        "warn",
        ["10 %"],
        lambda: about_artwork(0.1, moves_words(30.6, 4.0)),
        list,
    ),
    (
        "artwork-limits",
        "note",
        ["31 mm at most", "4.0 mm on average", "estimate"],
        lambda: about_artwork(0.001, moves_words(30.6, 4.0)),
        list,
    ),
    (
        "no-room-for-pips",
        "note",
        ["only 2 register pips"],
        lambda: about_artwork(0.0, "moves", pips=2),
        lambda: about_artwork(0.0, "moves", pips=4),
    ),
    (
        "no-room-for-pips",
        "note",
        ["room for no register pip"],
        lambda: about_artwork(0.0, "moves", pips=0),
        lambda: about_artwork(0.0, "moves"),
    ),
    ("part-locks", "stop", ["2 places"], lambda: judged("locked", "locked", fill_mode="none"), judged),
    (
        "buck-draft",
        "note",
        ["48 mm2", "0.4%", "2 places", "3 degrees", "31 mm2", "1.4 degrees", "x 3, y -4, z 22 mm"],
        lambda: short_of_draft(0.004, places=2),
        lambda: short_of_draft(0.004, places=0),
    ),
    (
        "buck-draft",
        "warn",
        ["1 place"],
        lambda: short_of_draft(0.005),
        lambda: short_of_draft(0.2, filled=False),
    ),
    (
        "still-trapped",
        "warn",
        ["0.15 mm"],
        lambda: judged("comes off", sideways_mm=0.15),
        lambda: judged("comes off", sideways_mm=0.09),
    ),
    (
        "still-trapped",
        "warn",
        ["0.15 mm"],
        lambda: judged("comes off", sideways_mm=0.15),
        lambda: judged("comes off", sideways_mm=0.15, fill_mode="locked"),
    ),
]


def _formed(*, stopped="", forced=0, lost=0, slid_to_mm=None, pressure=1.0):
    state = np.full(6, FREE)
    state[:lost] = OVERDRAWN
    pressed = np.array([0.0, pressure])
    return Made(stopped=stopped, forced=forced, state=state, slid_to_mm=slid_to_mm, pressure_per_mm=pressed)


def _of(findings, slug):
    return [finding for finding in findings if finding.slug == slug]


def test_every_kind_has_a_case():
    assert {case[0] for case in CASES} == set(finding_kinds())


@pytest.mark.parametrize(
    ("slug", "severity", "figures", "with_it", "without"),
    CASES,
    ids=[f"{n}-{c[0]}" for n, c in enumerate(CASES)],
)
def test_a_finding_is_raised_where_it_should_and_tells_its_figures(slug, severity, figures, with_it, without):
    fitting = [
        finding
        for finding in _of(with_it(), slug)
        if finding.severity == severity and all(figure in finding.words for figure in figures)
    ]
    assert fitting, [finding.words for finding in with_it()]
    assert not _of(without(), slug)


@pytest.mark.parametrize("number", range(len(CASES)))
def test_findings_are_of_known_kinds_and_settings_and_in_plain_words(number):
    for finding in [*CASES[number][3](), *CASES[number][4]()]:
        assert finding.slug in finding_kinds()
        assert finding.severity in SEVERITIES
        assert finding.setting in {"", *all_settings()}
        for words in filter(None, (finding.words, finding.advice)):
            assert words[0].isupper() or words[0].isdigit(), words
            assert words.endswith((".", "?")) and not words.endswith(".."), words
            assert no_syntax(words), words


def no_syntax(words):
    """Whether words read the same on a screen, in a panel and in a report: no flags, no keys of files."""
    return not re.search(r"--|\[[a-z]+\]|_(mm|deg|s|kpa)\b|\w = |\b[a-z]+\.[a-z]+_[a-z]+", words)


@pytest.mark.parametrize(
    "words", ["Say --unit cm.", "Set [forecast] nodes.", "hole_mm = 1", "See base.sink_mm."]
)
def test_syntax_is_seen(words):
    assert not no_syntax(words)


@pytest.mark.parametrize("slug", finding_kinds())
def test_a_kind_explains_itself(slug):
    kind = bw.explain(slug)
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", kind.slug) and kind.slug == slug
    assert not kind.title.endswith(".")
    for words in (kind.why, kind.rule, *kind.remedies):
        assert words.endswith((".", "?")) and words[0].isupper(), words
        assert "--" not in words and "[" not in words, words
    assert kind.source


def test_a_slug_that_is_none_is_told_with_the_nearest():
    with pytest.raises(bw.InputError, match="did you mean part-locks"):
        bw.explain("part-lock")
    with pytest.raises(bw.InputError, match="there are close-setups, body-note"):
        bw.explain("zzz")
