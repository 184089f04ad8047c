"""What is to be done: settings that vary, jobs of a folder, names of which no two are alike."""

import pytest

from buckwright.cli.options import plain_value
from buckwright.errors import InputError, JobError
from buckwright.job import Job
from buckwright.many.entries import MOST_JOBS, batch_entries, sweep_entries
from buckwright.many.varying import Varied, varied_from


def _values(words):
    return varied_from(words, plain_value).values


@pytest.mark.parametrize(
    ("words", "values"),
    [
        ("base.riser_mm=8:24:4", (8.0, 12.0, 16.0, 20.0, 24.0)),
        ("base.riser_mm=8:11:2", (8.0, 10.0)),
        ("sheet.thickness_mm=0.1:0.3:0.1", (0.1, 0.2, 0.3)),
        ("sheet.thickness_mm=0.5, 0.75,1,0.5", (0.5, 0.75, 1.0)),
        ("fill.mode=none,full", ("none", "full")),
        ("take_up.enabled=false,true", (False, True)),
        ("forecast.nodes=1000:3000:1000", (1000, 2000, 3000)),
        ("pull.direction=x,y,z", ("x", "y", "z")),
        ("pull.direction=z;0,0.1,1", ("z", (0.0, 0.1, 1.0))),
        ("forecast.frame_mm=640x480,700x500", ((640.0, 480.0), (700.0, 500.0))),
    ],
)
def test_values_of_a_setting(words, values):
    assert _values(words) == values


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("base.riser_mm", "must be TABLE.KEY="),
        ("base.risr_mm=1,2", "did you mean base.riser_mm"),
        ("base.riser_mm=9:8:1", "LOW not above HIGH"),
        ("base.riser_mm=8:9:0", "step above 0"),
        ("base.riser_mm=0:9:0.0001", "values; at most"),
        ("base.riser_mm=a:b:c", "three numbers"),
        ("sheet.thickness_mm=0.5,-3", "thickness_mm"),
        ("fill.mode=ful", "full"),
        ("vents.enabled=maybe", "must be true or false, got 'maybe'"),
    ],
)
def test_what_cannot_be_varied_is_told(words, told):
    with pytest.raises((InputError, JobError), match=told):
        _values(words)


def test_a_sweep_is_every_combination():
    varied = [Varied("base.riser_mm", (8.0, 12.0)), Varied("sheet.thickness_mm", (0.5, 0.75, 1.0))]
    entries = sweep_entries(Job(), varied)
    assert len({entry.name for entry in entries}) == 6
    assert entries[1].name == "riser_mm-8_thickness_mm-0.75"
    assert [(e.job.base.riser_mm, e.job.sheet.thickness_mm) for e in entries[:4]] == [
        (8.0, 0.5),
        (8.0, 0.75),
        (8.0, 1.0),
        (12.0, 0.5),
    ]


def test_too_many_are_refused():
    varied = [Varied("base.riser_mm", tuple(range(200))), Varied("sheet.thickness_mm", tuple(range(100)))]
    with pytest.raises(InputError, match=f"at most {MOST_JOBS:,}"):
        sweep_entries(Job(), varied)


def test_jobs_of_a_folder(tmp_path):
    for name in ("mask", "Mask", "mask_1", "wing"):
        home = tmp_path / name
        home.mkdir(exist_ok=True)
        (home / "job.toml").write_text('[sculpt]\nfile = "s.stl"\n', encoding="utf-8")
    (tmp_path / "wing" / "job.toml").write_text("[base]\nrisr_mm = 3\n", encoding="utf-8")
    entries = batch_entries([tmp_path], {"sheet": {"thickness_mm": 2.0}})
    names = [entry.name for entry in entries]
    assert len({name.casefold() for name in names}) == len(names) == len(list(tmp_path.iterdir()))
    by_name = {entry.name: entry for entry in entries}
    assert by_name["mask_1"].job.sheet.thickness_mm == 2.0
    assert by_name["wing"].job is None
    assert "did you mean riser_mm" in by_name["wing"].wrong


def test_a_folder_of_sculpts(tmp_path, sculpt):
    (tmp_path / "notes.txt").write_text("nothing", encoding="utf-8")
    (entry,) = batch_entries([tmp_path])
    assert (entry.name, entry.job.sculpt_path) == ("box", sculpt)


def test_an_empty_folder_is_told(tmp_path):
    with pytest.raises(InputError, match="neither job files nor sculpts"):
        batch_entries([tmp_path])
