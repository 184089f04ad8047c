"""The command: what it prints where, and how it ends."""

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest
from attrs import make_class
from click.testing import CliRunner

from buckwright import __version__, stages
from buckwright.cli import main
from buckwright.cli.options import SuggestingCommand, flag_of, with_settings
from buckwright.forming.sheets.table import load_sheets
from buckwright.job import Job, job_from, read_job, write_job
from buckwright.pipeline.commands import COMMANDS, settings_for
from buckwright.settings import number, whole
from buckwright.stage import Stage
from buckwright.stages import all_settings, finding_kinds

QUICK = ["--pull-direction", "z", "--no-pictures"]


@pytest.fixture
def invoke(tmp_path, monkeypatch):
    """Run the command in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("FORCE_COLOR", raising=False)

    def call(*words, env=None):
        return CliRunner().invoke(main, [str(word) for word in words], env=env)

    return call


@pytest.fixture(scope="module")
def job_file(sculpt_file, job_of, tmp_path_factory):
    """A job.toml with a cone beside it."""
    folder = tmp_path_factory.mktemp("kegel")
    sculpt_file("cone").rename(folder / "sculpt.stl")
    job = job_of(folder / "sculpt.stl", sculpt={"file": "sculpt.stl"}, job={"name": "Kegel"})
    (folder / "job.toml").write_text(write_job(job), encoding="utf-8")
    return folder / "job.toml"


def test_make_of_a_job_file(invoke, job_file, tmp_path):
    result = invoke("make", job_file, "--out", "result/deep", "--no-pictures")
    assert result.exit_code == 0, result.output
    assert {path.name for path in (tmp_path / "result/deep").iterdir()} == {
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
    assert result.stdout.startswith("Kegel: the buck is ready to print.")
    assert "result/deep" in result.stdout
    assert result.stderr == ""


def test_quick_start_scales_and_takes_the_sheet(invoke, sculpt_file, tmp_path):
    path = sculpt_file("cone", name="my cone.stl")
    settings = [
        "--sculpt-height-mm",
        "35",
        "--sheet-material",
        "hips",
        "--sheet-thickness-mm",
        "0.5",
        "--draft-wanted-deg",
        "4.5",
        "--fill-mode",
        "none",
    ]
    result = invoke("make", path, *settings, *QUICK)
    assert result.exit_code == 0, result.output
    report = json.loads((tmp_path / "my cone_buck" / "report.json").read_text(encoding="utf-8"))
    scale = sum(value**2 for value in report["frame"]["matrix"][2][:3]) ** 0.5
    # 35 mm is the part; the buck is larger by the shrinkage of the sheet.
    assert report["input"]["size_mm"][2] == pytest.approx(20 * scale, rel=1e-6)
    assert 35.0 < report["input"]["size_mm"][2] < 35.5
    assert report["draft"]["wanted_deg"] == 4.5
    assert result.stdout.startswith("my cone: ")


def test_command_line_goes_over_the_job_file(invoke, job_file, tmp_path):
    result = invoke(
        "look", job_file, "--draft-wanted-deg", "12", "--pull-direction", "0,0,2", "--no-pictures", "--json"
    )
    assert result.exit_code == 0
    report = json.loads(result.stdout)
    assert report["draft"]["wanted_deg"] == 12.0
    assert report["draft"]["tight_share"] > 0.3  # the wall has 10 degrees
    assert report["pull"]["direction"] == [0.0, 0.0, 1.0]


@pytest.mark.parametrize("pull", ["-z", "0,0,-1"])
def test_pull_may_begin_with_a_minus(pull, invoke, job_file):
    result = invoke("look", job_file, "--pull-direction", pull, "--json", "--no-pictures")
    assert result.exit_code in (0, 3), result.output
    assert json.loads(result.stdout)["pull"]["direction"] == [0.0, 0.0, -1.0]


def test_json_is_the_report_and_nothing_else(invoke, job_file, tmp_path):
    result = invoke("make", job_file, "--out", "o", "--json", "--no-pictures")
    assert result.exit_code == 0
    assert result.stdout == (tmp_path / "o" / "report.json").read_text(encoding="utf-8")
    assert json.loads(result.stdout)["version"] == __version__
    assert result.stderr == ""


def test_bars_go_to_stderr_only(invoke, job_file):
    result = invoke("make", job_file, "--json", "--no-pictures", env={"FORCE_COLOR": "1"})
    assert result.exit_code == 0
    json.loads(result.stdout)
    assert "\u2501" in result.stderr


def test_a_part_that_locks_ends_with_three_and_is_written_all_the_same(invoke, sculpt_file, tmp_path):
    result = invoke("make", sculpt_file("mushroom"), "--fill-mode", "none", "--base-sink-mm", "0", *QUICK)
    assert result.exit_code == 3
    assert (tmp_path / "sculpt_buck" / "buck.stl").exists()
    lines = result.stdout.splitlines()
    assert "cannot come off" in " ".join(lines[:2])
    first = next(line for line in lines if re.match(r"(STOP|WARN|NOTE) ", line))
    assert first.startswith("STOP")
    assert "->" in result.stdout


def test_look_of_a_part_that_locks(invoke, sculpt_file):
    result = invoke("look", sculpt_file("mushroom"), "--base-sink-mm", "0", *QUICK)
    assert result.exit_code == 3
    assert "locked" in result.stdout


def test_look_writes_its_maps_into_a_folder_of_its_name(invoke, sculpt_file, job_file, tmp_path):
    assert invoke("look", sculpt_file("cone", name="heron.stl"), "--pull-direction", "z").exit_code == 0
    assert {path.name for path in (tmp_path / "heron_look").iterdir()} > {"look.ply", "look_report.json"}
    assert list((tmp_path / "heron_look").glob("*.png"))
    assert invoke("look", job_file, "--no-pictures").exit_code == 0
    assert (tmp_path / f"{job_file.parent.name}_look" / "look.ply").exists()
    assert {path.name for path in tmp_path.iterdir()} == {"heron_look", f"{job_file.parent.name}_look"}


@pytest.mark.parametrize("fill", ["none", "full"])
def test_summary_fits_one_screen_worst_first(fill, invoke, sculpt_file):
    result = invoke("make", sculpt_file("idol"), "--fill-mode", fill, "--sheet-thickness-mm", "1.0", *QUICK)
    lines = result.stdout.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    labels = [line.split()[0] for line in lines if re.match(r"(STOP|WARN|NOTE) ", line)]
    assert labels == sorted(labels, key=["STOP", "WARN", "NOTE"].index)
    assert labels
    assert "\x1b" not in result.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["make", "absent.stl"], ["absent.stl", "does not exist"]),
        (["make", "absent.toml"], ["absent.toml", "no such job file"]),
        (["look", "."], ["folder"]),
        (["make", "SCULPT", "--sheet-thickness-mm", "0"], ["--sheet-thickness-mm", "between"]),
        (["make", "SCULPT", "--sculpt-height-mm", "-5"], ["--sculpt-height-mm", "between"]),
        (
            ["make", "SCULPT", "--sculpt-height-mm", "5", "--sculpt-width-mm", "5"],
            ["only one of", "width", "height"],
        ),
        (["make", "SCULPT", "--sheet-material", "plywood"], ["--sheet-material", "plywood", "HIPS"]),
        (["make", "SCULPT", "--pull-direction", "up"], ["--pull-direction", "search"]),
        (["make", "SCULPT", "--pull-direction", "1,2"], ["--pull-direction", "three numbers"]),
        (["make", "SCULPT", "--base-sink-mm", "deep"], ["--base-sink-mm", "deep"]),
        (["make", "SCULPT", "--sculpt-unit", "ell"], ["--sculpt-unit", "mm, cm, m, in"]),
        (["make", "SCULPT", "--colour", "red"], ["--colour"]),
        (["make"], ["SOURCE"]),
        (["mak"], ["mak", "Did you mean 'make'"]),
        (["make", "SCULPT", "--sculpt-heigth-mm", "5"], ["--sculpt-height-mm"]),
        (["make", "SCULPT", "--height", "5"], ["--sculpt-height-mm"]),
        (["make", "SCULPT", "--forecast-frame-mm", "240"], ["--forecast-frame-mm", "two numbers"]),
        (["sheets", "plywood"], ["plywood", "HIPS"]),
        (["explain", "part-loks"], ["part-locks"]),
        (["settings", "shet"], ["sheet"]),
    ],
)
def test_bad_words_end_with_two_and_leave_nothing(words, said, invoke, sculpt_file, tmp_path):
    sculpt = sculpt_file("cone")
    result = invoke(*[sculpt if word == "SCULPT" else word for word in words])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert all(word in result.stderr for word in said), result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_version_and_help(invoke):
    assert __version__ in invoke("--version").stdout
    for command in ("make", "look"):
        text = invoke(command, "-h").stdout
        assert "Exit codes: 0 done, 2 bad input, 3" in text
        assert max(map(len, text.splitlines())) <= 80
        assert not re.search(r"\b(None|FLOAT range|kwargs|numpy|mesh boolean)\b", text)
        # Every option but the two that speak for themselves says what it takes.
        options = re.findall(r"^  (--[a-z-]+|-h), ?|^  (--[a-z-]+)", text, re.MULTILINE)
        assert len(options) > 10
    assert "--base-riser-mm" not in invoke("look", "-h").stdout  # of no use there


def test_stopping_says_so(invoke, job_file, monkeypatch, tmp_path):
    def interrupted(*_args, **_settings):
        raise KeyboardInterrupt

    monkeypatch.setattr("buckwright.pipeline.run.run", interrupted)
    result = invoke("make", job_file)
    assert result.exit_code == 130
    assert "Stopped" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_as_a_program_of_its_own(job_file, tmp_path):
    """Through the operating system: code, streams, and non-ASCII names on a plain terminal."""
    folder = tmp_path / "größe"
    program = "from buckwright.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", program, "look", job_file, "--json", "--no-pictures", "--out", folder],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        timeout=300,
    )
    assert done.returncode == 0, done.stderr.decode()
    assert done.stderr == b""
    assert done.stdout == (folder / "look_report.json").read_bytes()


def _flags(command):
    return {flag for one in main.commands[command].params for flag in one.opts if flag.startswith("--")}


@pytest.mark.parametrize("command", ["look", "make", "forecast", "forecast-on"])
def test_a_command_has_just_the_options_that_change_what_it_does(command):
    """Every setting that a command reads is an option of it, under the name of its key, and no other is."""
    wanted = {flag_of(name) for name, one in settings_for(COMMANDS[command]).items() if not one.names_file}
    every = {flag_of(name) for name in all_settings()}
    assert _flags(command) & every == wanted


def test_options_without_effect_do_not_exist():
    of_a_buck = _flags("forecast-on")
    assert {"--forecast-gap-mm", "--sheet-thickness-mm"} <= of_a_buck
    assert not {"--sculpt-height-mm", "--pull-direction", "--base-sink-mm", "--fill-mode"} & of_a_buck
    assert {"--forecast-nodes", "--forecast-gap-mm", "--forecast-friction"} <= _flags("make")
    assert not {"--base-riser-mm", "--vents-enabled", "--forecast-gap-mm"} & _flags("look")


def test_every_kind_of_setting_can_be_typed(invoke, sculpt_file, tmp_path):
    words = {
        "--pull-about": "0,0.1,1",
        "--pull-cone-deg": "30",
        "--pull-directions": "40",
        "--forecast-frame-mm": "140x130",
        "--forecast-nodes": "1000",
        "--vents-at-mm": "5,0,20",
        "--base-sink-mm": "widest",
        "--base-footprint": "Circle",
    }
    typed = [word for pair in words.items() for word in pair]
    path = sculpt_file("cone")
    result = invoke("make", path, *typed, "--no-underside-engrave", "--fill-keep-tight", *QUICK, "--json")
    assert result.exit_code == 0, result.output
    report = json.loads(result.stdout)
    assert report["forecast"]["settings"]["frame_mm"] == [140.0, 130.0]
    assert report["underside"]["engraving"] is None
    assert len([vent for vent in report["vents"] if vent["pocket"] != -1]) == 1


def test_a_stage_brings_its_options(monkeypatch):
    """Options come from the declared stages: those of a further one appear with no change to the command."""
    Finish = make_class(
        "Finish",
        {
            "sanding_mm": number(0.2, low=0, high=1, unit="mm", label="Sanding", tip="Taken off", front=True),
            "coats": whole(1, low=0, high=9, label="Coats", tip="Coats of filler"),
        },
        frozen=True,
    )
    further = Stage(
        name="finish",
        title="finishing",
        gives="finished",
        needs=("buck", "finish"),
        run=lambda buck, finish, clock: (buck, finish, clock),
        tables={"finish": Finish},
    )
    monkeypatch.setattr(stages, "STAGES", [*stages.STAGES, further])

    def taking(command):
        return click.command(cls=SuggestingCommand)(with_settings(command)(lambda **_words: None))

    text = CliRunner().invoke(taking("make"), ["--help"]).stdout
    assert "--finish-sanding-mm NUMBER" in text
    assert "between 0 and 1 mm" in " ".join(text.split())
    assert "--finish-coats" not in text  # not in front, but taken
    assert CliRunner().invoke(taking("make"), ["--finish-coats", "3"]).exit_code == 0
    assert CliRunner().invoke(taking("make"), ["--finish-coats", "30"]).exit_code == 2
    assert CliRunner().invoke(taking("look"), ["--finish-coats", "3"]).exit_code == 2


def test_alone_it_shows_what_to_do_next(invoke):
    result = invoke()
    assert result.exit_code == 0
    for command in main.commands:
        if command != "forecast" and command != "forecast-on":
            assert f"buckwright {command}" in result.stdout


def test_start_writes_a_job_that_make_takes(invoke, sculpt_file, tmp_path):
    path = sculpt_file("cone", name="hat.stl")
    result = invoke("start", path, "--out", tmp_path / "job.toml")
    assert result.exit_code == 0, result.output
    assert "40.0 x 40.0 x 20.0 mm" in result.stdout
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    for name, one in all_settings().items():
        assert re.search(rf"^(# )?{name.partition('.')[2]} = ", text, re.MULTILINE), name
        assert one.tip in text, name
    job = read_job(tmp_path / "job.toml")
    assert job.job.name == "hat"
    assert job == Job(job={"name": "hat"}, sculpt={"file": job.sculpt.file})
    assert job.sculpt_path.resolve() == path.resolve()
    again = invoke("start", path, "--out", tmp_path / "job.toml")
    assert again.exit_code == 2
    assert "--force" in again.stderr
    assert invoke("start", path, "--out", tmp_path / "job.toml", "--force").exit_code == 0


def test_every_commented_line_can_be_taken_in(invoke, sculpt_file, tmp_path):
    """Each setting that the file shows as a comment is one that a job takes when the mark is removed."""
    invoke("start", sculpt_file("cone"), "--out", tmp_path / "job.toml")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    table, taken = "", 0
    for line in text.splitlines():
        if line.startswith("["):
            table = line[1 : line.index("]")]
        elif found := re.match(r"# (\w+ = .+)$", line):
            job_from(tomllib.loads(f"[{table}]\n{found[1]}"))
            taken += 1
    assert taken > 55


def test_sheets_and_explain_and_settings(invoke):
    listed = invoke("sheets").stdout
    for name, one in load_sheets().items():
        assert name in listed
        page = invoke("sheets", name.lower()).stdout
        assert one.title in page
        for source in (one.shrinkage.source, one.strain.source, one.male_draft_deg.source):
            assert source.split()[0] in page
        assert one.strain.mark in page
    slugs = invoke("explain").stdout
    for slug, kind in finding_kinds().items():
        assert slug in slugs
        page = " ".join(invoke("explain", slug).stdout.split())
        assert all(word in page for word in (kind.title, " ".join(kind.why.split()), *kind.remedies)), slug
    text = " ".join(invoke("settings").stdout.split())
    for name, one in all_settings().items():
        assert name.partition(".")[2] in text
        assert one.tip in text, name


def test_old_keys_are_read_and_named(invoke, sculpt_file, tmp_path):
    job = tmp_path / "in" / "job.toml"
    job.parent.mkdir()
    text = f'[sculpt]\nfile = "{sculpt_file("cone")}"\n[pull]\ndirection = "z"\n[base]\nfixings = 1\n'
    job.write_text(text, encoding="utf-8")
    result = invoke("make", job, "--no-pictures", "--json", "--out", tmp_path / "o")
    assert "[base] fixings is called [underside] fixing_count now" in result.stderr
    assert len(json.loads(result.stdout)["underside"]["fixings"]["holes"]) == 1


def test_open_finds_the_newest_pictures(invoke, monkeypatch, tmp_path):
    opened = []
    monkeypatch.setattr("click.launch", lambda path: opened.append(path) or 0)
    for n, name in enumerate(("old", "deep/er/new")):
        folder = tmp_path / name
        folder.mkdir(parents=True)
        for file in ("report.json", "look_top.png", "buck_slant.png"):
            (folder / file).write_bytes(b"")
            os.utime(folder / file, (n + 1, n + 1))
    assert invoke("open").exit_code == 0
    assert invoke("open", "old").exit_code == 0
    assert [Path(path).relative_to(tmp_path if Path(path).is_absolute() else ".") for path in opened] == [
        Path("deep/er/new/buck_slant.png"),
        Path("old/buck_slant.png"),
    ]
    empty = tmp_path / "empty"
    empty.mkdir()
    assert invoke("open", empty).exit_code == 2


def test_forecast_on_a_buck(invoke, run, tmp_path):
    _, folder = run("cone")
    words = ["--forecast-nodes", "4000", "--no-pictures", "--json"]
    result = invoke("forecast-on", folder / "buck.stl", *words, "--out", tmp_path / "f")
    assert result.exit_code == 0, result.output
    report = json.loads(result.stdout)
    assert set(report) >= {"forecast", "findings", "command"}
    assert not {"fill", "pull", "draft"} & set(report)
    assert sorted(path.name for path in (tmp_path / "f").iterdir()) == ["forecast_report.json"]


@pytest.mark.parametrize("module", ["buckwright", "buckwright.cli"])
def test_the_modules_run_the_command(module):
    done = subprocess.run(
        [sys.executable, "-m", module, "--version"], capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0
    assert __version__ in done.stdout


def test_a_sample_comes_along(invoke, tmp_path):
    result = invoke("start", "finial.stl", "--sample")
    assert result.exit_code == 0, result.output
    assert "60.0 mm" in result.stdout
    look = invoke("look", "job.toml", "--pull-direction", "z", "--no-pictures", "--json")
    assert look.exit_code == 3  # its collar locks
    assert json.loads(look.stdout)["input"]["repairs"] == []
    assert invoke("start", "finial.stl", "--sample").exit_code == 2
    assert "STL" in invoke("start", "finial.obj", "--sample").stderr


def test_a_flag_takes_the_place_of_its_counterpart_in_the_job(invoke, sculpt_file, tmp_path):
    job = tmp_path / "in" / "job.toml"
    job.parent.mkdir()
    text = f'[sculpt]\nfile = "{sculpt_file("cone")}"\nheight_mm = 60\n[pull]\ndirection = "z"\n'
    job.write_text(text + "[forecast]\nframe_mm = [300, 300]\n", encoding="utf-8")
    result = invoke("look", job, "--sculpt-width-mm", "20", "--no-pictures", "--json")
    assert json.loads(result.stdout)["input"]["size_mm"][0] == pytest.approx(20.0, rel=0.01)
    assert read_job(job).evolved(forecast={"gap_mm": 30.0}).forecast.frame_mm is None


def test_errors_are_json_too(invoke):
    result = invoke("make", "absent.stl", "--json")
    assert result.exit_code == 2
    told = json.loads(result.stdout)["error"]
    assert told["exit_code"] == 2
    assert "absent.stl" in told["words"] and told["kind"] == "MeshError"


def test_sheets_complete(invoke):
    option = next(one for one in main.commands["make"].params if "--sheet-material" in one.opts)
    words = [item.value for item in option.type.shell_complete(None, option, "p")]
    assert {"PETG", "PMMA", "PC", "PVC"} <= set(words)
    assert "HIPS" not in words


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (["--frame", "240"], "No such option --frame. Did you mean --forecast-frame-mm?"),
        (["--forecast-frame-mm", "240"], "'--forecast-frame-mm': must be two numbers, got 240"),
        (["--sheet-thickness-mm", "-1"], "between 0.05 and 10 mm, got -1"),
        (["--sheet-material", "HIP"], "got 'HIP' (did you mean HIPS?)"),
    ],
)
def test_errors_speak_of_what_was_typed_in_json_too(invoke, job_file, typed, words):
    result = invoke("make", job_file, *typed, "--json")
    assert result.exit_code == 2
    told = json.loads(result.stdout)["error"]
    assert (told["kind"], told["exit_code"]) == ("UsageError", 2)
    assert told["words"].endswith(words)
    assert result.stderr.rstrip().endswith(words)
    assert not invoke("make", job_file, *typed).stdout
