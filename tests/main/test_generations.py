"""A folder holds one generation of one run, and anybody can tell whether it is of one piece."""

import hashlib
import json
import os

import pytest

from buckwright.errors import OutputError
from buckwright.pipeline.run import run


def _whole(folder, report="report.json"):
    named = json.loads((folder / report).read_text(encoding="utf-8"))["files"]
    held = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}
    held.pop(report)
    return held == named


def test_the_report_names_every_file_with_its_hash(job_of, tmp_path):
    outcome = run("make", job_of("cone"), tmp_path / "o")
    assert _whole(tmp_path / "o")
    assert outcome.files[-1].name == "report.json"
    assert {path.name for path in outcome.files} == {path.name for path in (tmp_path / "o").iterdir()}


def test_a_run_takes_away_what_the_last_one_left(job_of, tmp_path):
    run("look", job_of("cone"), tmp_path)
    assert list(tmp_path.glob("*.png"))
    mine = tmp_path / "notes.txt"
    mine.write_text("mine")
    changed = next(iter(tmp_path.glob("*.png")))
    changed.write_bytes(b"edited by hand")
    outcome = run("look", job_of("tight_cone"), tmp_path, pictures=False)
    assert {path.name for path in tmp_path.iterdir()} == {
        "look.ply",
        "look_report.json",
        "notes.txt",
        changed.name,
    }
    assert "pictures" not in outcome.summary.files[0]


def test_another_command_is_refused_before_any_work(job_of, tmp_path):
    run("look", job_of("cone"), tmp_path, pictures=False)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(OutputError, match="holds the results of 'look'"):
        run("make", job_of("cone"), tmp_path, progress=lambda *_: pytest.fail("work began"))
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_what_a_killed_run_left_is_mended_by_the_next(job_of, tmp_path):
    run("look", job_of("cone"), tmp_path, pictures=False)
    (tmp_path / ".look.ply.4194999.0123abcd.part").write_bytes(b"half")
    run("look", job_of("cone"), tmp_path, pictures=False)
    assert {path.name for path in tmp_path.iterdir()} == {"look.ply", "look_report.json"}


def test_save_of_an_outcome_is_a_generation_too(job_of, tmp_path):
    outcome = run("look", job_of("cone"))
    outcome.save(tmp_path / "a")
    assert _whole(tmp_path / "a", "look_report.json")
    outcome.save(tmp_path / "a", pictures=False)
    assert _whole(tmp_path / "a", "look_report.json")
    assert not list((tmp_path / "a").glob("*.png"))


def test_names_that_a_terminal_cannot_show(job_of, sculpt_file, tmp_path):
    odd = sculpt_file("cone", name="a\x1b[31mred.stl")
    outcome = run("look", job_of(odd), tmp_path / "o", pictures=False)
    assert "\x1b" not in outcome.summary.title
    if os.name == "posix":
        raw = tmp_path / os.fsdecode(b"h\xe4t.stl")
        raw.write_bytes(odd.read_bytes())
        run("look", job_of(raw), tmp_path / "p", pictures=False)
        assert _whole(tmp_path / "p", "look_report.json")
