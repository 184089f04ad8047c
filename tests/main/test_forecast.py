"""The forecast in the main road and by its own command."""

import json
from functools import partial

import numpy as np
import pytest
from click.testing import CliRunner
from manifold3d import Manifold

from buckwright.cli import main
from buckwright.errors import InputError, JobError
from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.run import run as run_command
from buckwright.shape.solid import as_mesh

forecast = partial(run_command, "forecast")
make = partial(run_command, "make")

VENTS = {"spacing_mm": 60.0, "hole_mm": 1.0}
NODES = {"quality": "preview", "nodes": 8000}


def cup() -> Mesh:
    """A block with a deep conical hollow: the sheet closes over its rim and shuts in the air."""
    return as_mesh(
        Manifold.cylinder(24.0, 34.0, 30.0, 96)
        - Manifold.cylinder(18.001, 2.0, 16.0, 96).translate((0.0, 0.0, 6.0))
    )


@pytest.fixture(scope="module")
def made(job_of, sculpt_file, tmp_path_factory):
    """The cup's buck with vents that follow the forecast: outcome and folders of files and of arrays."""
    out, results = tmp_path_factory.mktemp("cup"), tmp_path_factory.mktemp("arrays")
    job = job_of(sculpt_file(cup()), forecast=NODES | {"place_vents": True}, vents=VENTS)
    return make(job, out, results=results), out, results


def test_report_tells_thickness_contact_and_trust(made):
    told = made[0].report["forecast"]
    shares = told["thickness_percentiles_mm"]
    assert 0.0 < shares["5"] < shares["50"] < shares["95"] < 0.75
    assert told["weakest"]["mm"] < told["mean_mm"]
    assert 0.0 < told["weakest"]["band_mm"] < told["weakest"]["mm"]
    assert 0.0 < told["thin"]["band_mm"] < told["thin"]["mm"]
    assert abs(told["volume_error"]) <= 1e-9
    assert "narrow edges" in told["trust"]
    half, other = told["half_net"], told["other_heat"]
    own = told["weakest"]["mm"]
    assert told["twice_net_weakest_mm"] == pytest.approx(min(own, 1.5 * own - 0.5 * half["weakest_mm"]))
    assert told["twice_net_band_mm"] == told["weakest"]["band_mm"]
    assert told["settings"]["rim_colder_c"] == 20.0 and other["rim_colder_c"] == 0.0
    assert other["thin_mm"] > told["thin"]["mm"]  # walls of an evenly warm sheet stay thicker


def test_hollow_is_the_largest_pocket_and_its_bottom_is_touched_last(made):
    pocket = made[0].report["forecast"]["trapped_air"][0]
    x, y, _ = pocket["last_touched_mm"]
    assert np.hypot(x, y) < 4.0
    assert pocket["volume_mm3"] > 0.2 * np.pi / 3.0 * 16.0**2 * 18.0


def test_vents_follow_and_drain_every_pocket(made):
    report = made[0].report
    tops = np.array([vent["top_mm"] for vent in report["vents"]])
    assert np.hypot(*tops[:, :2].T).min() < 6.0
    assert report["drainage"]["with_vents"]["bridged"] == []


def test_each_pocket_empties_by_the_vents_under_it(made):
    """By hand: choked flow through an orifice without loss empties a volume as exp(-t / tau)."""
    report = made[0].report
    told = report["forecast"]["trapped_air"][0]
    tops = np.array([vent["top_mm"] for vent in report["vents"]])
    under = np.hypot(*tops[:, :2].T) < 17.0  # the mouth of the hollow
    assert under.any()
    area = np.pi / 4.0 * report["vents"][0]["diameter_mm"] ** 2
    gas, heat, kelvin = 287.05, 1.4, 293.15
    psi = np.sqrt(heat) * (2 / (heat + 1)) ** ((heat + 1) / (2 * (heat - 1)))
    swept = under.sum() * area * 1e-6 * psi * np.sqrt(gas * kelvin)  # m3/s through holes without loss
    bound = told["volume_mm3"] * 1e-9 / swept * np.log(1 / 0.2)
    assert bound < report["drainage"]["evacuation_s"][0] < 4.0 * bound


@pytest.mark.parametrize(("riser_mm", "flares"), [(2.0, True), (12.0, False)])
def test_a_low_riser_leaves_the_edge_in_the_flare(job_of, sculpt_file, riser_mm, flares):
    drum = as_mesh(Manifold.cylinder(60.0, 30.0, 27.0, 96))
    base = {"riser_mm": riser_mm, "land_mm": 1.0}
    weak = {"plenum_kpa": 80.0}  # a weak pump leaves wide curves at the foot
    job = job_of(sculpt_file(drum), base=base, forecast=NODES | {"gap_mm": 3.0}, vents=weak)
    told = forecast(job, None).report
    assert (told["forecast"]["at_trim_line"]["stands_off_mm"] > 1.5) == flares
    assert any(entry["slug"] == "flared-edge" for entry in told["findings"]) == flares


def test_a_weak_pump_leaves_rounder_corners_and_a_thicker_sheet(job_of):
    told = [
        forecast(job_of("cone", forecast=NODES, vents={"plenum_kpa": kpa}), None).report["forecast"]
        for kpa in (10.0, 80.0)
    ]
    strong, weak = (one["settings"]["sharpest_radius_mm"] for one in told)
    assert weak / strong == pytest.approx((101.325 - 10.0) / (101.325 - 80.0))
    assert told[1]["thin"]["mm"] > told[0]["thin"]["mm"]


def test_pictures_and_arrays_are_there(made):
    _, out, results = made
    assert {f"forecast_{name}.png" for name in ("top", "front", "right", "contact", "cut")} <= {
        path.name for path in out.iterdir()
    }
    with np.load(results / "arrays.npz") as arrays:
        assert (
            arrays["sheet_faces"].max() < len(arrays["sheet_vertices"]) == len(arrays["sheet_thickness_mm"])
        )
        thick = arrays["thickness_mm"]
        assert np.isfinite(thick).mean() > 0.5
        assert np.nanmax(thick) <= 0.75 * 1.01  # where nothing stretches the mesh errs by less than a percent
        order = arrays["contact_order"][np.isfinite(arrays["contact_order"])]
        assert order.min() >= 0.0 and order.max() <= 1.0


def test_thicker_sheet_is_named_where_it_gets_thin(job_of):
    job = job_of("cone", sheet={"thickness_mm": 0.5}, forecast=NODES)
    found = [entry["words"] for entry in forecast(job, None).report["findings"]]
    (words,) = [line for line in found if line.startswith("A sheet of")]
    assert "instead of 0.5 mm" in words


def test_gaps_are_compared(job_of):
    job = job_of("cone", forecast={"quality": "preview", "nodes": 4000, "compare_gaps": True})
    rows = forecast(job, None).report["forecast"]["gaps"]
    assert len(rows) == 4
    areas = [row["blank_area_cm2"] for row in rows]
    assert areas == sorted(areas)
    assert rows[-1]["mean_mm"] > rows[0]["mean_mm"]  # more sheet to draw from


def test_forecast_goes_into_the_release(job_of, tmp_path):
    outcome = make(job_of("mushroom", fill={"mode": "none"}, forecast=NODES), tmp_path, pictures=False)
    assert outcome.report["forecast"]["mean_mm"] < 0.75


def test_off_means_none(job_of, tmp_path):
    outcome = make(job_of("cone", forecast={"quality": "off"}), tmp_path)
    assert "forecast" not in outcome.report
    assert not list(tmp_path.glob("forecast*"))


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"frame_mm": [30, 30]}, "does not surround the buck"),
        ({"machine_height_mm": 10}, "the machine takes 10.0 mm"),
    ],
)
def test_what_does_not_fit_is_refused_and_leaves_nothing(settings, words, job_of, tmp_path):
    with pytest.raises(InputError, match=words):
        make(job_of("cone", forecast=settings), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_command_on_a_finished_buck(sculpt_file, tmp_path):
    path = sculpt_file("cone")
    frame = ["--forecast-frame-mm", "90x80", "--forecast-nodes", "8000"]
    words = [str(path), *frame, "--sheet-thickness-mm", "1"]
    ran = CliRunner().invoke(main, ["forecast-on", *words, "--out", str(tmp_path / "f"), "--json"])
    assert ran.exit_code == 0, ran.output
    told = json.loads(ran.stdout)["forecast"]
    assert told["settings"]["frame_mm"] == pytest.approx([90.0, 80.0])
    assert told["settings"]["sheet_mm"] == 1.0
    assert (tmp_path / "f" / "forecast_top.png").exists()


def test_command_with_a_frame_that_is_none(sculpt_file, tmp_path):
    words = [
        "forecast-on",
        str(sculpt_file("cone")),
        "--forecast-frame-mm",
        "wide",
        "--out",
        str(tmp_path / "f"),
    ]
    ran = CliRunner().invoke(main, words)
    assert ran.exit_code == 2
    assert "--forecast-frame-mm" in ran.output
    assert not (tmp_path / "f").exists()


def test_the_textbook_model_is_at_hand_and_refuses_what_it_cannot(job_of):
    even = NODES | {"rim_colder_c": 0.0}
    both = [
        forecast(job_of("cone", forecast=even | {"model": model}), None).report["forecast"]
        for model in ("membrane", "geometric")
    ]
    assert [told["settings"]["model"] for told in both] == ["membrane", "geometric"]
    assert both[1]["mean_mm"] == pytest.approx(both[0]["mean_mm"], rel=0.25)
    with pytest.raises(JobError, match="does not support sag, vents"):
        job_of("cone", forecast=NODES | {"model": "geometric", "place_vents": True})


def test_measured_points_stand_against_the_forecast(job_of):
    few = {"quality": "preview", "nodes": 1000}
    first = forecast(job_of("cone", forecast=few), None).report["forecast"]
    x, y, z = first["weakest"]["where_mm"]
    words = f"thin spot 0.30 at {x:.2f} {y:.2f} {z:.2f}, nowhere 0.5 at 900 0 0"
    outcome = forecast(job_of("cone", forecast=few | {"measured": words}), None)
    told = outcome.report["forecast"]["measured"]
    (point,) = told["points"]
    assert point["name"] == "thin spot" and told["missed"] == ["nowhere"] and told["rank"] is None
    assert point["forecast_mm"] == pytest.approx(first["weakest"]["mm"], rel=0.2)
    assert told["thickness_bias"] == pytest.approx(0.30 / point["forecast_mm"], rel=1e-6)
    assert first["measured"] is None
    assert any(one.slug == "measured-thickness" for one in outcome.findings)
