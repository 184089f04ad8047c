"""The user's own sheets: known everywhere by name, checked like the library's, never in the way."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from buckwright.errors import JobError
from buckwright.forming.sheets import own
from buckwright.forming.sheets.materials import sheet
from buckwright.forming.sheets.table import load_sheets
from buckwright.pipeline.store import library_state


@pytest.fixture
def keep(own_file):
    """Write the file of own sheets."""
    return own_file(own.ENVIRONMENT, "sheets.toml")


def test_the_example_can_be_used_as_it_is(keep):
    keep(own.EXAMPLE)
    one, like = sheet("workshop-petg"), load_sheets()["PETG"]
    assert (one.shrinkage.low, one.shrinkage.mark) == (0.004, "measured")
    assert one.density_kg_m3 == like.density_kg_m3
    assert one.forming_normal_c.middle == 145.0 != like.forming_normal_c.middle
    assert list(own.known_sheets()) == [*load_sheets(), "WORKSHOP_PETG"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[PETG]\nlike = "ABS"', "PETG: that is one of the library's; give yours another name"),
        ('["my sheet"]\nlike = "ABS"', "'my sheet': a name is capitals, digits and underscores"),
        ('[MINE]\nlike = "wood"', "MINE: like must name one of HIPS, .*, got 'wood'"),
        ('[MINE]\ntitle = "x"', "sheet MINE: missing conductivity_w_mk"),
        ('[MINE]\nlike = "ABS"\ndensity = 1000', "density is not known; it has .*density_kg_m3"),
        (
            '[MINE]\nlike = "ABS"\nrelease_c = { value = 200, source = "x", mark = "read" }',
            "MINE: release_c must be below forming_lowest_c",
        ),
        ("[MINE", "cannot be used"),
        ("MINE = 3", "a table is expected"),
    ],
)
def test_what_is_wrong_is_told_and_ours_still_work(keep, text, message):
    path = keep(text)
    with pytest.raises(JobError, match=message) as told:
        own.own_sheets()
    assert str(path) in str(told.value)
    assert dict(own.known_sheets()) == dict(load_sheets())
    assert sheet("PETG") is load_sheets()["PETG"]
    with pytest.raises(JobError, match=message):
        sheet("MINE")


def test_no_file_is_no_fault(tmp_path, monkeypatch):
    for named in (str(tmp_path / "none.toml"), ""):
        monkeypatch.setenv(own.ENVIRONMENT, named)
        assert not own.own_sheets()
    assert own.own_path() is None
    monkeypatch.delenv(own.ENVIRONMENT)
    found = own.own_path()
    assert found.name == "sheets.toml" and found.parent.name == "buckwright"


def test_a_folder_and_a_huge_file_are_refused(tmp_path, monkeypatch):
    monkeypatch.setenv(own.ENVIRONMENT, str(tmp_path))
    with pytest.raises(JobError, match="it is no file"):
        own.own_sheets()
    (tmp_path / "huge").write_bytes(b"#" * 1_000_001)
    monkeypatch.setenv(own.ENVIRONMENT, str(tmp_path / "huge"))
    with pytest.raises(JobError, match="larger than 1 MB"):
        own.own_sheets()


def test_kept_results_hang_on_the_file(keep):
    keep(own.EXAMPLE)
    before = library_state()
    assert library_state() == before
    keep(own.EXAMPLE.replace("0.005", "0.006"))
    assert library_state() != before


def _run(path, *words):
    return subprocess.run(
        [sys.executable, "-m", "buckwright", *words],
        env={**os.environ, own.ENVIRONMENT: str(path)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


def test_a_job_and_the_command_know_them(keep, tmp_path):
    path = keep(own.EXAMPLE)
    listed = _run(path, "sheets").stdout
    assert "WORKSHOP_PETG" in listed and "(your own)" in listed and str(path) in listed.replace("\n", "")
    assert "two masks, measured across the brow (measured)" in _run(path, "sheets", "workshop petg").stdout
    Path(tmp_path / "job.toml").write_text('[sheet]\nmaterial = "WORKSHOP_PETG"\n[sculpt]\nfile = "none.stl"')
    told = _run(path, "look", str(tmp_path / "job.toml"))
    assert told.returncode == 2 and "none.stl" in told.stderr and "material" not in told.stderr


def test_the_command_says_what_is_wrong(keep, tmp_path):
    path = keep('[MINE]\nlike = "wood"')
    told = _run(path, "sheets")
    assert told.returncode == 2 and "like must name one of HIPS" in told.stderr
    told = _run(path, "make", "none.stl", "--sheet-material", "MINE")
    assert told.returncode == 2 and "like must name one of HIPS" in told.stderr
    assert "none.stl" in _run(path, "make", "none.stl", "--sheet-material", "PETG").stderr


def test_the_command_shows_an_example(tmp_path):
    (tmp_path / "own.toml").write_text(_run("", "sheets", "--example").stdout, encoding="utf-8")
    assert "WORKSHOP_PETG" in _run(tmp_path / "own.toml", "sheets").stdout
