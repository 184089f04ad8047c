"""Machines: what they give, whether a buck fits, how their vacuum falls, which holes stay open."""

import math
import os
import subprocess
import sys

import attrs
import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from buckwright.cli import main
from buckwright.errors import InputError, JobError
from buckwright.job import Job
from buckwright.pipeline.settled import settled
from buckwright.pipeline.store import library_state
from buckwright.workshop.machine import own
from buckwright.workshop.machine.figures import MachineFigures, MachineProfile
from buckwright.workshop.machine.filling import gifts
from buckwright.workshop.machine.opening import machine_opening
from buckwright.workshop.machine.planning import plan_fit, plan_suction
from buckwright.workshop.machine.platen import air_of, hole_grid, sort_holes
from buckwright.workshop.machine.vacuum import (
    ATMOSPHERE_KPA,
    Vacuum,
    force_n,
    left_in_pocket,
    pump_down_s,
    shared_kpa,
)


def vacuum(**changed):
    usual = {"flow_l_min": 100.0, "lowest_kpa": 5.0, "box_l": 5.0, "tank_l": 0.0, "tank_kpa": 10.0}
    return Vacuum(**({"kind": "pump"} | usual | changed))


def test_box_and_tank_share_as_boyle_says():
    # derived: 5 l at 101.325 kPa into 50 l at 5 kPa, and into 20 l
    assert shared_kpa(5.0, ATMOSPHERE_KPA, 50.0, 5.0) == pytest.approx(13.757, abs=5e-4)
    assert shared_kpa(5.0, ATMOSPHERE_KPA, 20.0, 5.0) == pytest.approx(24.265, abs=5e-4)
    plan = plan_suction(vacuum(tank_l=50.0, tank_kpa=5.0), under_sheet_l=0.0, base_mm2=1e4, target_kpa=20.0)
    assert plan.shared_kpa == plan.holds_kpa == pytest.approx(13.757, abs=5e-4)


@pytest.mark.parametrize(("end", "minutes"), [(6.0, 2.4142), (0.5, 6.1415)])
def test_pumping_down_takes_as_long_as_in_the_textbook(end, minutes):
    # Esposito, Fluid Power with Applications, Ex. 14-6: 6 ft3, 4 scfm, from 30 in Hg; it prints 2.41, 6.14
    pump = vacuum(flow_l_min=4.0, lowest_kpa=0.0)
    assert pump_down_s(6.0, pump, start_kpa=30.0, end_kpa=end) / 60.0 == pytest.approx(minutes, abs=1e-4)


@given(
    kind=st.sampled_from(["pump", "cleaner"]),
    lowest=st.floats(0.0, 90.0),
    share=st.floats(0.01, 0.99),
)
def test_the_closed_form_is_the_integral_of_the_flow(kind, lowest, share):
    end = lowest + share * (ATMOSPHERE_KPA - lowest)
    reach = ATMOSPHERE_KPA - lowest

    def flow(p):
        return 100.0 / 60.0 * ((1.0 - lowest / p) if kind == "pump" else (p - lowest) / reach)

    wanted, _ = quad(lambda p: 7.0 / (p * flow(p)), end, ATMOSPHERE_KPA, epsabs=0.0, epsrel=1e-9, limit=200)
    one = vacuum(kind=kind, lowest_kpa=lowest)
    assert pump_down_s(7.0, one, start_kpa=ATMOSPHERE_KPA, end_kpa=end) == pytest.approx(wanted, rel=1e-6)


def test_what_is_below_the_lowest_pressure_is_never_reached():
    assert pump_down_s(5.0, vacuum(), start_kpa=100.0, end_kpa=5.0) == math.inf
    assert pump_down_s(5.0, vacuum(), start_kpa=10.0, end_kpa=10.0) == 0.0
    assert pump_down_s(0.0, vacuum(), start_kpa=100.0, end_kpa=1.0) == 0.0


def test_force_on_a_platen():
    # derived: 300 x 200 mm, 6079.5 N at a full atmosphere; 4800 N at 80 kPa of difference; 100 x 100: 1013 N
    assert force_n(300.0 * 200.0, 0.0) == pytest.approx(6079.5)
    assert force_n(300.0 * 200.0, ATMOSPHERE_KPA - 80.0) == pytest.approx(4800.0)
    assert force_n(1e4, 0.0) == pytest.approx(1013.25)


def test_a_tank_is_ready_again_once_the_pump_has_drawn_out_what_came_in():
    plan = plan_suction(vacuum(tank_l=50.0), under_sheet_l=2.0, base_mm2=1e4, target_kpa=20.0)
    assert plan.shared_kpa == pytest.approx((7.0 * ATMOSPHERE_KPA + 500.0) / 57.0)
    again = 60.0 * 50.0 / 100.0 * math.log((plan.shared_kpa - 5.0) / 5.0)
    assert plan.tank_s == pytest.approx(again)


def test_a_weak_vacuum_leaves_more_in_a_pocket():
    assert left_in_pocket(0.1) == 0.2
    assert left_in_pocket(0.8) == pytest.approx(0.85)
    assert left_in_pocket(0.94) == 0.95


SQUARE = [np.array([(-30.0, -30.0), (30.0, -30.0), (30.0, 30.0), (-30.0, 30.0)])]


def test_holes_of_a_platen_by_hand():
    grid = hole_grid((101.0, 51.0), round_one=False, pitch_mm=25.0, hole_mm=1.0)
    assert len(grid) == 5 * 3 and (np.abs(grid).max(axis=0) == (50.0, 25.0)).all()
    assert len(hole_grid((101.0, 51.0), round_one=False, pitch_mm=25.0, hole_mm=1.1)) == 3 * 1
    circle = hole_grid((100.0, 100.0), round_one=True, pitch_mm=10.0, hole_mm=2.0)
    # points of the integer lattice within 4.9: 1 + 4 x 4 on the axes + 4 x (4 + 4 + 3 + 2) between them
    assert len(circle) == 69 and np.hypot(*circle.T).max() <= 49.0
    with pytest.raises(InputError, match="check hole_pitch_mm"):
        hole_grid((5000.0, 5000.0), round_one=False, pitch_mm=2.0, hole_mm=1.0)


def test_holes_outside_the_opening_are_masked_and_those_under_the_base_are_told():
    grid = hole_grid((201.0, 201.0), round_one=False, pitch_mm=25.0, hole_mm=1.0)
    holes = sort_holes(grid, 1.0, opening_mm=(101.0, 101.0), round_one=False, base=SQUARE)
    assert len(grid) == 81
    assert (
        int((~holes.masked).sum()) == 25 and int(holes.covered.sum()) == 9 and int(holes.beside.sum()) == 16
    )
    cut = sort_holes(grid, 1.0, opening_mm=(100.9, 101.0), round_one=False, base=SQUARE)
    assert int((~cut.masked).sum()) == 15  # the columns at 50 mm are cut by the frame
    circle = sort_holes(grid, 1.0, opening_mm=(101.0, 101.0), round_one=True, base=SQUARE)
    assert int((~circle.masked).sum()) == 13  # of 5 x 5 those within 50 mm of the middle


def reached(nodes, links, exits, *, opening=(101.0, 101.0), width=4.0, gap=True, hole=1.0):
    grid = hole_grid((201.0, 201.0), round_one=False, pitch_mm=25.0, hole_mm=hole)
    holes = sort_holes(grid, hole, opening_mm=opening, round_one=False, base=SQUARE)
    air = air_of(
        holes,
        np.array(nodes, np.float64),
        np.array(links, np.int64).reshape(-1, 2),
        np.array(exits),
        base=SQUARE,
        vents=2,
        width_mm=width,
        gap=gap,
    )
    return air.reached.tolist(), air.under


#: two vents, a turn, and an exit beside the base; none of the channels runs over a hole
NODES = [(10.0, 10.0), (10.0, -12.0), (12.0, 0.0), (35.0, 5.0)]


def test_air_goes_along_channels_and_the_gap_to_open_holes():
    exits = [False, False, False, True]
    assert reached(NODES, [(0, 2), (1, 2), (2, 3)], exits, width=1.0) == ([True, True], 0)
    # one vent has no channel
    assert reached(NODES, [(0, 2), (2, 3)], exits, width=1.0) == ([True, False], 0)
    # no hole lies in the gap, or there is no gap
    assert reached(NODES, [(0, 2), (1, 2), (2, 3)], exits, width=1.0, opening=(80.0, 80.0))[0] == [False] * 2
    assert reached(NODES, [(0, 2), (1, 2), (2, 3)], exits, width=1.0, gap=False)[0] == [False] * 2


def test_a_channel_over_a_hole_is_enough():
    nodes = [(0.0, 10.0), (20.0, -12.0), (0.0, -10.0)]
    exits = [False, False, False]
    assert reached(nodes, [(0, 2)], exits, gap=False) == ([True, False], 1)
    # beside the hole by half of the channel's width and a little
    beside = [(x + 2.1, y) for x, y in nodes]
    assert reached(beside, [(0, 2)], exits, gap=False) == ([False, False], 0)
    # over a hole that was named, wherever the grid has its own
    assert reached(
        [(12.0, 10.0), (20.0, -12.0), (12.0, -10.0)], [(0, 2)], [False, False, True], gap=False
    ) == (
        [True, False],
        0,
    )


def fit(figures=None, **changed):
    usual = {
        "base": SQUARE,
        "base_mm": (60.0, 60.0),
        "height_mm": 50.0,
        "platen_mm": (80.0, 80.0),
        "frame_mm": (80.0, 80.0),
        "opening_mm": (80.0, 80.0),
        "most_mm": 50.0,
        "dead_mm": 0.0,
        "blank_mm": (110.0, 110.0),
        "sag_share": 0.25,
    }
    return plan_fit(figures or MachineFigures(), **(usual | changed))


def test_a_buck_fits_or_the_share_that_would_is_told():
    one = fit()
    assert one.on_platen and one.passes and one.low_enough and one.scale_to_fit == 1.0
    assert one.sag_mm == 20.0 and one.sags_free is None and one.in_oven is None
    assert not fit(most_mm=40.0).low_enough and fit(most_mm=40.0).scale_to_fit == pytest.approx(0.8)
    assert fit(base_mm=(90.0, 60.0), platen_mm=(60.0, 90.0)).on_platen
    assert fit(base_mm=(90.0, 60.0), platen_mm=(60.0, 80.0)).scale_to_fit == pytest.approx(80.0 / 90.0)
    narrow = fit(MachineFigures(sag_room_mm=19.0, oven_mm=(120.0, 100.0)))
    assert narrow.sags_free is False and narrow.in_oven is False


def test_a_round_platen_is_asked_for_the_corners():
    round_one = MachineFigures(shape="round")
    assert fit(round_one, platen_mm=(85.0, 85.0), frame_mm=(85.0, 85.0)).on_platen
    small = fit(round_one, platen_mm=(80.0, 80.0), frame_mm=(80.0, 80.0))
    assert not small.on_platen and not small.passes
    assert small.scale_to_fit == pytest.approx(80.0 / (60.0 * math.sqrt(2.0)))


def test_the_machines_own_opening_counts_unless_another_is_asked_for():
    assert machine_opening((300.0, 200.0), (100.0, 50.0), round_one=False, asked=True) is None
    assert machine_opening(None, (100.0, 50.0), round_one=False, asked=False) is None
    assert machine_opening((300.0, 200.0), (299.0, 50.0), round_one=False, asked=False) is None
    one = machine_opening((140.0, 140.0), (80.0, 80.0), round_one=True, asked=False)
    assert one.size_mm == (140.0, 140.0)
    assert one.forecast_mm[0] * one.forecast_mm[1] == pytest.approx(math.pi * 70.0**2)


def test_a_machine_gives_what_is_left_out_and_nothing_else():
    job = Job(machine={"profile": "HOME_BOX_300_450", "hole_mm": 2.0}, vents={"plenum_kpa": 90.0})
    now = settled(job)
    assert now.base.platen_mm == (450.0, 300.0) and now.rig.grip_mm == 15.0
    assert now.machine.hole_mm == 2.0 and now.machine.hole_pitch_mm == 25.0
    assert now.vents.plenum_kpa == 90.0  # given
    assert now.vents.target_share == pytest.approx(79.0 / ATMOSPHERE_KPA + 0.05)
    assert settled(now) == now
    assert settled(Job()) == Job()
    shop = settled(Job(machine={"profile": "SHOP_600"}))
    assert shop.heating.flux_kw_m2 == 10.0 and shop.heating.sides == "one"
    assert shop.vents.plenum_kpa == pytest.approx(shared_kpa(15.0, ATMOSPHERE_KPA, 150.0, 10.0))


def test_every_machine_of_ours_holds_together():
    assert list(own.library_machines()) == ["A4_TABLE_TOP", "HOME_BOX_300_450", "SHOP_600", "ROUND_140"]
    for name, one in own.library_machines().items():
        assert one.source and one.mark == "common practice, no source", name
        now = settled(Job(machine={"profile": name}))
        assert now.vents.plenum_kpa < now.vents.target_share * ATMOSPHERE_KPA
        assert len(
            hole_grid(
                one.platen_mm,
                round_one=one.shape == "round",
                pitch_mm=one.hole_pitch_mm,
                hole_mm=one.hole_mm,
            )
        )


@pytest.fixture
def keep(own_file):
    """Write the file of own machines."""
    return own_file(own.ENVIRONMENT, "machines.toml")


def test_the_example_can_be_used_as_it_is(keep):
    keep(own.EXAMPLE)
    one, like = own.machine("blue-box"), own.library_machines()["HOME_BOX_300_450"]
    assert (one.frame_mm, one.hole_mm, one.mark) == ((400.0, 260.0), 2.5, "measured")
    assert one.platen_mm == like.platen_mm and one.oven_mm == like.oven_mm
    before = library_state()
    keep(own.EXAMPLE.replace("78.5", "78.0"))
    assert library_state() != before, "what was kept hangs on the file"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[SHOP_600]\nlike = "ROUND_140"', "SHOP_600: that is one of the library's; give yours another name"),
        ('["my box"]\nlike = "SHOP_600"', "'my box': a name is capitals, digits and underscores"),
        ('[MINE]\nlike = "wood"', "MINE: like must name one of A4_TABLE_TOP, .*, got 'wood'"),
        ("[MINE]\nbox_l = 3", "MINE: missing title and source"),
        ('[MINE]\ntitle = "x"\nsource = "x"\nholes = 3', "has no setting 'holes'"),
        ('[MINE]\ntitle = "x"\nsource = "x"\nlowest_kpa = 200', "between 0 and 101 kPa"),
        ('[MINE]\ntitle = "x"\nsource = "x"\nhole_pitch_mm = 5\nhole_mm = 6', "run into each other"),
        ('[MINE]\ntitle = "x"\nsource = "x"\nshape = "round"\nplaten_mm = [90, 80]', "has one diameter"),
        ("[MINE", "cannot be used"),
        ("MINE = 3", "a table is expected"),
    ],
)
def test_what_is_wrong_is_told_and_ours_still_work(keep, text, message):
    path = keep(text)
    with pytest.raises(JobError, match=message) as told:
        own.own_machines()
    assert str(path) in str(told.value)
    assert dict(own.known_machines()) == dict(own.library_machines())
    with pytest.raises(JobError, match=message):
        own.machine("MINE")


def test_holes_that_run_into_each_other_are_refused_in_a_job_too():
    with pytest.raises(JobError, match="run into each other"):
        settled(Job(machine={"profile": "SHOP_600", "hole_mm": 30.0}))


def test_a_machine_carries_the_heat_of_its_heater(keep):
    keep(own.EXAMPLE + 'heat_map = "0.9 1 0.9"\nrim_colder_c = 12\n')
    profile = own.machine("BLUE_BOX")
    given = gifts(profile, profile)
    assert given["forecast.heat_map"] == "0.9 1 0.9" and given["forecast.rim_colder_c"] == 12.0
    shop = own.machine("SHOP_600")
    assert "forecast.heat_map" not in gifts(shop, shop)


OTHERS = '\n[GREEN_BOX]  # mine as well\nlike = "SHOP_600"\ntitle = "Green"\nsource = "rule"\n'


@pytest.mark.parametrize("before", ["", "thickness_bias = 1.2  # of last year\n"])
def test_a_bias_is_written_into_the_machines_own_table_and_nothing_else_changes(keep, before):
    text = own.EXAMPLE + before + OTHERS
    path = keep(text)
    named, changed = own.with_bias("BLUE_BOX", 0.9137)
    assert named == path and path.read_text(encoding="utf-8") == text, "it is only worked out"
    path.write_text(changed, encoding="utf-8")
    assert own.machine("BLUE_BOX").thickness_bias == 0.914
    assert own.machine("GREEN_BOX").thickness_bias is None
    kept = [line for line in changed.splitlines() if "thickness_bias" not in line]
    assert kept == [line for line in text.splitlines() if "thickness_bias" not in line]


@pytest.mark.parametrize("name", [None, "SHOP_600", "RED_BOX"])
def test_a_bias_is_kept_with_a_machine_of_ones_own_only(keep, name):
    keep(own.EXAMPLE)
    with pytest.raises(JobError, match="machine of your own"):
        own.with_bias(name, 0.9)


def test_the_log_keeps_its_bias_with_the_machine(keep, tmp_path):
    path = keep(own.EXAMPLE)
    (tmp_path / "cup.stl").write_bytes(b"")
    job = tmp_path / "job.toml"
    job.write_text('[sculpt]\nfile = "cup.stl"\n[machine]\nprofile = "BLUE_BOX"\n', encoding="utf-8")
    points = ["--thickness", "brow 0.45/0.50, chin 0.36/0.50"]
    told = subprocess.run(
        [sys.executable, "-m", "buckwright", "log", str(job), *points, "--keep-bias"],
        env={**os.environ, own.ENVIRONMENT: str(path)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert told.returncode == 0, told.stderr
    assert own.machine("BLUE_BOX").thickness_bias == pytest.approx(np.sqrt(0.9 * 0.72), abs=1e-3)


def test_the_command_lists_and_shows_them(keep):
    path, invoke = keep(own.EXAMPLE), CliRunner().invoke
    listed = invoke(main, ["machines"]).stdout
    assert "BLUE_BOX" in listed and "(your own)" in listed and str(path) in listed.replace("\n", "")
    shown = invoke(main, ["machines", "blue box"]).stdout
    assert "400 x 260 mm" in shown and "measured with rule and gauge (measured)" in shown
    told = invoke(main, ["machines", "SHOP_60"])
    assert told.exit_code == 2 and "did you mean SHOP_600?" in told.output
    assert invoke(main, ["machines", "--example"]).stdout == own.EXAMPLE


def test_a_fresh_process_knows_them_as_a_setting(keep):
    path = keep(own.EXAMPLE)
    told = subprocess.run(
        [sys.executable, "-m", "buckwright", "make", "none.stl", "--machine-profile", "BLUE_BOX"],
        env={**os.environ, own.ENVIRONMENT: str(path)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert told.returncode == 2 and "none.stl" in told.stderr and "profile" not in told.stderr


def test_a_profile_knows_every_figure_that_a_job_may_set():
    names = {one.name for one in attrs.fields(MachineFigures)}
    assert names < {one.name for one in attrs.fields(MachineProfile)}
