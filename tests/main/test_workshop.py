"""What the workshop needs comes with a buck: blank, reducing set, templates, job sheet."""

import ezdxf
import pytest
import trimesh

from buckwright.pipeline.run import run

TEMPLATES = {"blank", "base_board", "edge_strip", "height_gauge", "paper_strip"}
REDUCING = {"mask_plate", "clamp_frame"}


#: Neither forecast nor vents, and a coarse fill: a second or two.
QUIET = {"forecast": {"quality": "off"}, "vents": {"enabled": False}, "fill": {"cell_mm": 2.0}}


def drawings_in(folder):
    return {path.stem for path in folder.glob("*.dxf")}, {path.stem for path in folder.glob("*.svg")}


@pytest.fixture(scope="module")
def usual(job_of, tmp_path_factory):
    folder = tmp_path_factory.mktemp("usual")
    return run("make", job_of("cone", forecast={"quality": "off"}), folder, pictures=False), folder


def test_blank_and_templates_come_by_themselves(usual):
    outcome, folder = usual
    rig, cutting = outcome.report["rig"], outcome.report["cutting"]
    width, depth = outcome.report["base"]["size_mm"][:2]
    gap = max(outcome.report["buck"]["size_mm"][2] / 2.0, 25.0)
    assert rig["opening_mm"] == pytest.approx([width + 2.0 * gap, depth + 2.0 * gap], abs=0.02)
    assert rig["blank_mm"] == pytest.approx([side + 30.0 for side in rig["opening_mm"]])
    assert rig["reducing_set"] is None
    assert cutting["per_sheet"] == len(cutting["pieces"]) >= 1
    assert drawings_in(folder) == (TEMPLATES, TEMPLATES)
    assert (folder / "templates.pdf").read_bytes().startswith(b"%PDF")
    assert "job_sheet.html" in outcome.report["files"]
    assert "Opening of the frame" in (folder / "job_sheet.html").read_text(encoding="utf-8")


def test_a_reducing_set_raises_the_riser_and_is_drawn(job_of, usual, tmp_path):
    rig = {"reducing": True, "mask_mm": 4.0, "gasket_mm": 20.0, "gasket_squeeze": 0.25}
    job = job_of("cone", forecast={"quality": "off"}, rig=rig, base={"platen_mm": [400.0, 400.0]})
    outcome = run("make", job, tmp_path, pictures=False)
    before, base = usual[0].report["base"], outcome.report["base"]
    assert outcome.report["rig"]["dead_mm"] == 19.0
    assert base["riser_mm"] == pytest.approx(before["riser_mm"] + 19.0 - base["flange_mm"], abs=0.01)
    assert drawings_in(tmp_path)[0] == TEMPLATES | REDUCING
    openings = []
    for name in ("mask_plate", "clamp_frame"):
        cut = ezdxf.readfile(tmp_path / f"{name}.dxf").modelspace().query('LWPOLYLINE[layer=="cut"]')
        points = [point[:2] for point in cut[1].get_points()]
        openings.append([max(axis) - min(axis) for axis in zip(*points, strict=True)])
    assert openings[0] == openings[1]
    assert openings[0] == pytest.approx(outcome.report["rig"]["opening_mm"])


def test_the_opening_is_that_of_the_forecast(job_of):
    tables = QUIET | {"forecast": {"frame_mm": [300.0, 280.0], "nodes": 4000}}
    outcome = run("make", job_of("cone", **tables), None)
    assert outcome.report["rig"]["opening_mm"] == [300.0, 280.0]


def test_templates_can_be_left_out(job_of, tmp_path):
    job = job_of("cone", templates={"enabled": False}, **QUIET)
    run("make", job, tmp_path, pictures=False)
    assert drawings_in(tmp_path) == (set(), set())


def test_same_job_same_templates(job_of, usual, tmp_path):
    run("make", job_of("cone", forecast={"quality": "off"}), tmp_path, pictures=False)
    names = [path.name for path in tmp_path.iterdir() if path.suffix in (".dxf", ".svg", ".pdf")]
    assert len(names) == 2 * len(TEMPLATES) + 1
    for name in names:
        assert (tmp_path / name).read_bytes() == (usual[1] / name).read_bytes()


def test_the_forecast_stands_in_the_machines_own_frame(job_of):
    tables = {"forecast": {"nodes": 4000}, "vents": {"enabled": False}}
    outcome = run("forecast", job_of("cone", machine={"profile": "ROUND_140"}, **tables), None)
    side = 120.0 * 3.141592653589793**0.5 / 2.0
    assert outcome.report["forecast"]["settings"]["frame_mm"] == pytest.approx([side, side], rel=1e-6)


def test_a_part_that_is_too_large_is_told_with_the_share_that_fits(job_of):
    job = job_of("cone", machine={"profile": "ROUND_140"}, sculpt={"height_mm": 80.0}, **QUIET)
    outcome = run("make", job, None)
    fit = outcome.report["machine"]["fit"]
    assert not fit["on_platen"] and not fit["low_enough"] and 0.3 < fit["scale_to_fit"] < 0.8
    assert {"machine-fit"} <= {one.slug for one in outcome.findings if one.severity == "stop"}
    assert dict(outcome.summary.answers)["Fits"].startswith("no: ")


def test_the_next_forecast_shows_what_the_machine_makes_of_it(job_of):
    tables = {"forecast": {"nodes": 2000}, "vents": {"enabled": False}}
    job = job_of("cone", machine={"profile": "SHOP_600", "thickness_bias": 0.9}, **tables)
    outcome = run("forecast", job, None)
    told = outcome.report["forecast"]
    assert told["on_machine"] == {
        "thickness_bias": 0.9,
        **{f"{name}_mm": pytest.approx(0.9 * told[name]["mm"], rel=1e-6) for name in ("weakest", "thin")},
        "mean_mm": pytest.approx(0.9 * told["mean_mm"], rel=1e-6),
    }
    words = dict(outcome.summary.answers)["Thickness"]
    likely = f"{0.9 * told['weakest']['mm']:.2f} mm"
    assert f"0.90 times as thick as forecast, the weakest spot then {likely}" in words


def test_the_heating_line_begins_like_the_others(usual):
    assert any(fact.startswith("Heat ") for fact in usual[0].summary.facts)
    assert all(fact[0].isupper() or fact[0].isdigit() for fact in usual[0].summary.facts)


def test_gaps_are_weighed_by_their_own_command(job_of, tmp_path):
    tables = QUIET | {"forecast": {"nodes": 4000, "quality": "off"}, "stock": {"price": 20.0}}
    outcome = run("gaps", job_of("cone", **tables), tmp_path, pictures=False)
    gaps = outcome.report["gaps"]
    assert len(gaps["rows"]) == len(outcome.report["forecast"]["gaps"]) == 4
    assert {path.name for path in tmp_path.iterdir()} >= {"gaps.csv", "gaps.svg"}
    assert gaps["reason"] in outcome.summary.facts
    for row, forecast in zip(gaps["rows"], outcome.report["forecast"]["gaps"], strict=True):
        assert row["blank_mm"][0] == pytest.approx(forecast["frame_width_mm"] + 30.0)
        assert row["cost_per_part"] == pytest.approx(20.0 * 1.1 / row["per_sheet"])


def test_the_log_stands_beside_the_job_and_on_the_job_sheet(sculpt_file, tmp_path):
    from click.testing import CliRunner

    from buckwright.cli import main

    sculpt = sculpt_file("cone", name="cup.stl")
    job = tmp_path / "job.toml"
    tables = '[machine]\nprofile = "A4_TABLE_TOP"\n[pull]\ndirection = "z"\n'
    job.write_text(f'[sculpt]\nfile = "{sculpt.as_posix()}"\n{tables}')
    invoke = CliRunner().invoke
    asked = invoke(main, ["log", str(job)])
    assert asked.exit_code == 0 and "nothing noted yet" in asked.stdout
    assert not list(tmp_path.glob("*.pulls.toml")), "to ask writes nothing"
    for heat, fill in ((20, 1), (25, 3), (28, 2)):
        words = ["--heat-s", str(heat), "--sag-s", "18", "--sag-mm", "30", "--fill", str(fill)]
        words += ["--stiff-s", "9"]
        told = invoke(main, ["log", str(job), *words])
        assert told.exit_code == 0, told.output
    assert "Noted as pull 3." in told.stdout and "3 pulls on this buck" in told.stdout
    assert "Best so far: pull 2, 25 s of heat" in told.stdout and "heat_s from 25 to 28" in told.stdout
    assert "from 6 figures" in told.stdout  # seconds and millimetres: the opening is the machine's
    refused = invoke(main, ["log", str(job), "--fill", "5"])
    assert refused.exit_code == 2 and "between 0 and 3" in refused.output

    from buckwright.job import read_job

    quiet = read_job(job).evolved(**QUIET)
    outcome = run("make", quiet, tmp_path / "out", pictures=False)
    page = (tmp_path / "out" / "job_sheet.html").read_text(encoding="utf-8")
    assert "3 pulls on this buck so far." in page and "Best so far: pull 2" in page
    assert "heat_s from 25 to 28" in page and "Hold" in page and "until the part is stiff" in page
    _machine_answers(outcome, tmp_path / "out")


def _machine_answers(outcome, folder):
    rig, told = outcome.report["rig"], outcome.report["machine"]
    assert rig["opening_mm"] == [275.0, 185.0] and rig["grip_mm"] == 11.0
    assert told["fit"]["on_platen"] and told["fit"]["low_enough"] and told["vacuum"]["evacuate_s"] > 0.0
    automatic = outcome.report["automatic"]
    assert automatic["base.platen_mm"] == [275.0, 185.0] and automatic["vents.plenum_kpa"] == 81.3
    low, high = outcome.report["heating"]["sag_mm"]
    share = outcome.report["heating"]["sag_share"]
    assert (low, high) == pytest.approx((185.0 * share[0], 185.0 * share[1]))
    drawn = ezdxf.readfile(folder / "platen_holes.dxf").modelspace().query("CIRCLE")
    assert len(drawn) == told["holes"]["count"]
    assert dict(outcome.summary.answers)["Fits"].startswith("yes: ")


def test_four_cups_stand_on_one_board_under_one_sheet(job_of, tmp_path):
    tables = {"group": {"copies": 4}, "machine": {"profile": "SHOP_600"}, "stock": {"parts": 40}}
    quiet = QUIET | {"vents": {}}
    outcome = run("make", job_of("cone", **tables, **quiet), tmp_path, pictures=False)
    group, rig = outcome.report["group"], outcome.report["rig"]
    assert group["fits"] and len(group["places"]) == 4
    assert rig["opening_mm"] == [600.0, 600.0] and min(rig["gap_mm"]) >= group["edge_mm"]
    assert outcome.report["cutting"]["blanks"] == 11  # 44 parts with spares, four from a blank
    assert [way["per_pull"] for way in group["ways"]] == [1, 4]
    holes = outcome.report["machine"]["holes"]
    assert holes["vents_reaching"] == holes["vents"] == 4 * outcome.report["venting"]["vents"] > 0
    board = ezdxf.readfile(tmp_path / "base_board.dxf").modelspace()
    outlines = board.query('LWPOLYLINE[layer=="engrave"]')
    assert len([line for line in outlines if line.closed]) == 4
    assert outcome.report["automatic"]["group.spacing_mm"] == group["spacing_mm"]


def test_too_many_are_refused_with_the_number_that_fits(job_of):
    tables = QUIET | {"forecast": {"quality": "off", "frame_mm": [300.0, 200.0]}}
    outcome = run("make", job_of("cone", group={"copies": 30}, **tables), None)
    (found,) = [one for one in outcome.findings if one.slug == "group-too-large"]
    most = outcome.report["group"]["most"]
    assert found.severity == "stop" and f"{most} fit" in found.words and 1 < most < 30
    assert outcome.report["rig"]["opening_mm"] == [300.0, 200.0]


def test_the_edge_is_cut_out_of_the_forecast_and_its_holes_are_marked(job_of, tmp_path):
    edge = {
        "profile": "u",
        "rivets_mm": [[20.0, 0.0, 14.0]],
        "fans_mm": [[0.0, 0.0, 30.0]],
    }
    quiet = QUIET | {"forecast": {"quality": "preview", "nodes": 4000}, "edge": edge}
    outcome = run("make", job_of("cone", **quiet), tmp_path)
    report = outcome.report
    assert report["edge"]["from"] == "forecast"
    assert report["templates"]["trim_line_mm"] == report["edge"]["trim_line_mm"]
    assert report["edge"]["outside_mm"] > report["edge"]["trim_line_mm"]
    assert [hole["kind"] for hole in report["holes"]] == ["rivet", "fan"]
    assert "drilling" in drawings_in(tmp_path)[0]
    made = trimesh.load(tmp_path / "edge.stl")
    assert made.is_watertight and made.body_count == 1
    plain = run("make", job_of("cone", **(quiet | {"edge": {}})), None).buck
    assert 0.1 < outcome.buck.volume_mm3() - plain.volume_mm3() < 4.0  # caps of balls of 1 mm
    page = (tmp_path / "job_sheet.html").read_text(encoding="utf-8")
    assert 'id="solid-data"' in page and "Drill 1 rivet hole, 1 fan hole at the pips" in page
    assert len(page) < 8_000_000


def test_with_a_reducing_set_the_sheet_ends_at_the_clamp_plane(job_of):
    quiet = QUIET | {"forecast": {"quality": "preview", "nodes": 4000}}
    rig = {"reducing": True, "mask_mm": 3.0, "gasket_mm": 6.0}
    outcome = run("forecast", job_of("cone", **quiet, rig=rig), None)
    assert outcome.sheet.mesh.vertices[:, 2].min() == pytest.approx(6.0, abs=1e-6)
    assert run("forecast", job_of("cone", **quiet), None).sheet.mesh.vertices[:, 2].min() == pytest.approx(
        0.0
    )


def test_the_buck_cools_as_what_it_is_printed_of():
    from buckwright.forming.heating.settings import HeatingSettings
    from buckwright.forming.heating.stage import of_print
    from buckwright.printing.materials import PRINT_MATERIALS

    usual = HeatingSettings()
    assert of_print(usual, "PLA").buck == pytest.approx(usual.buck)  # what is taken where nothing is said
    for name, plastic in PRINT_MATERIALS.items():
        wanted = plastic.conductivity_w_mk, plastic.density_kg_m3 * plastic.heat_kj_kgk
        assert of_print(usual, name).buck == pytest.approx(wanted)
    metal = HeatingSettings(buck_w_mk=200.0, buck_kj_m3k=2400.0)
    assert of_print(metal, "ABS") == metal


def test_another_print_cools_the_part_in_another_time(job_of):
    parts = [
        run("make", job_of("cone", **QUIET, print={"material": name}), None).report
        for name in ("PLA", "PA12")
    ]
    slow, quick = (one["heating"] for one in parts)
    assert (slow["buck_w_mk"], quick["buck_w_mk"]) == (0.13, 0.24)
    assert quick["cool_s"] < slow["cool_s"]
    assert parts[0]["automatic"]["heating.buck_w_mk"] == 0.13
