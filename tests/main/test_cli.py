"""The command: what it prints where, and how it ends."""

import json
import os
import re
import subprocess
import sys

import pytest
from click.testing import CliRunner

from buckwright import __version__
from buckwright.cli import main
from buckwright.job import write_job

QUICK = ["--pull", "z", "--no-pictures"]


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
    }
    assert result.stdout.startswith("Kegel: the buck is ready to print.")
    assert "result/deep" in result.stdout
    assert result.stderr == ""


def test_quick_start_scales_and_takes_the_sheet(invoke, sculpt_file, tmp_path):
    path = sculpt_file("cone", name="my cone.stl")
    settings = ["--height", "35", "--material", "hips", "--sheet", "0.5", "--draft", "4.5", "--fill", "none"]
    result = invoke("make", path, *settings, *QUICK)
    assert result.exit_code == 0, result.output
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    scale = sum(value**2 for value in report["frame"]["matrix"][2][:3]) ** 0.5
    # 35 mm is the part; the buck is larger by the shrinkage of the sheet.
    assert report["input"]["size_mm"][2] == pytest.approx(20 * scale, rel=1e-6)
    assert 35.0 < report["input"]["size_mm"][2] < 35.5
    assert report["draft"]["wanted_deg"] == 4.5
    assert result.stdout.startswith("my cone: ")


def test_command_line_goes_over_the_job_file(invoke, job_file, tmp_path):
    result = invoke("look", job_file, "--draft", "12", "--pull", "0,0,2", "--no-pictures", "--json")
    assert result.exit_code == 0
    report = json.loads(result.stdout)
    assert report["draft"]["wanted_deg"] == 12.0
    assert report["draft"]["tight_share"] > 0.3  # the wall has 10 degrees
    assert report["pull"]["direction"] == [0.0, 0.0, 1.0]


@pytest.mark.parametrize("pull", ["-z", "0,0,-1"])
def test_pull_may_begin_with_a_minus(pull, invoke, job_file):
    result = invoke("look", job_file, "--pull", pull, "--json", "--no-pictures")
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
    for step in ("filling undercuts", "building the base", "drilling"):
        assert step in result.stderr


def test_a_part_that_locks_ends_with_three_and_is_written_all_the_same(invoke, sculpt_file, tmp_path):
    result = invoke("make", sculpt_file("mushroom"), "--fill", "none", *QUICK)
    assert result.exit_code == 3
    assert (tmp_path / "out" / "buck.stl").exists()
    lines = result.stdout.splitlines()
    assert "cannot come off" in " ".join(lines[:2])
    first = next(line for line in lines if re.match(r"(STOP|CARE|NOTE) ", line))
    assert first.startswith("STOP")
    assert "->" in result.stdout


def test_look_of_a_part_that_locks(invoke, sculpt_file):
    result = invoke("look", sculpt_file("mushroom"), *QUICK)
    assert result.exit_code == 3
    assert "locked" in result.stdout


def test_look_writes_its_maps_into_a_folder_of_its_name(invoke, sculpt_file, job_file, tmp_path):
    assert invoke("look", sculpt_file("cone", name="heron.stl"), "--pull", "z").exit_code == 0
    assert {path.name for path in (tmp_path / "heron_look").iterdir()} > {"look.ply", "report.json"}
    assert list((tmp_path / "heron_look").glob("*.png"))
    assert invoke("look", job_file, "--no-pictures").exit_code == 0
    assert (tmp_path / f"{job_file.parent.name}_look" / "look.ply").exists()
    assert {path.name for path in tmp_path.iterdir()} == {"heron_look", f"{job_file.parent.name}_look"}


@pytest.mark.parametrize("fill", ["none", "full"])
def test_summary_fits_one_screen_worst_first(fill, invoke, sculpt_file):
    result = invoke("make", sculpt_file("idol"), "--fill", fill, "--sheet", "1.0", *QUICK)
    lines = result.stdout.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    labels = [line.split()[0] for line in lines if re.match(r"(STOP|CARE|NOTE) ", line)]
    assert labels == sorted(labels, key=["STOP", "CARE", "NOTE"].index)
    assert labels
    assert "\x1b" not in result.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["make", "absent.stl"], ["absent.stl", "does not exist"]),
        (["make", "absent.toml"], ["absent.toml", "no such job file"]),
        (["look", "."], ["directory"]),
        (["make", "SCULPT", "--sheet", "0"], ["thickness_mm", "between"]),
        (["make", "SCULPT", "--height", "-5"], ["height_mm", "between"]),
        (["make", "SCULPT", "--height", "5", "--width", "5"], ["only one of", "width", "height"]),
        (["make", "SCULPT", "--material", "plywood"], ["plywood", "HIPS"]),
        (["make", "SCULPT", "--pull", "up"], ["direction", "search"]),
        (["make", "SCULPT", "--pull", "1,2"], ["direction", "three numbers"]),
        (["make", "SCULPT", "--sink", "deep"], ["sink_mm", "deep"]),
        (["make", "SCULPT", "--unit", "ell"], ["--unit", "'mm'"]),
        (["make", "SCULPT", "--colour", "red"], ["--colour"]),
        (["make"], ["SOURCE"]),
        (["mak"], ["mak"]),
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
        assert len(options) > 12
    assert "--riser" not in invoke("look", "-h").stdout  # of no use there


def test_stopping_says_so(invoke, job_file, monkeypatch, tmp_path):
    def interrupted(*_args, **_settings):
        raise KeyboardInterrupt

    monkeypatch.setattr("buckwright.cli.make", interrupted)
    result = invoke("make", job_file)
    assert result.exit_code == 1
    assert "Stopped; nothing was written." in result.stderr
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
    assert done.stdout == (folder / "report.json").read_bytes()
