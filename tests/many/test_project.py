"""A project file: parts with twins and sizes, common sheets and frames, one job sheet."""

import json

import pytest
from click.testing import CliRunner

from buckwright.cli.command import main
from buckwright.errors import InputError, JobError
from buckwright.many.project.planning import common_frame, frames_of, sheets_of
from buckwright.many.project.reading import read_project
from buckwright.many.project.running import SET_PAGE, run_set
from buckwright.many.work import work_out

SHARED = """
[set]
name = "Guard"
number = "G-1"
{about}
[shared.sheet]
material = "PETG"
thickness_mm = 1.0
[shared.pull]
direction = "z"
[shared.base]
sink_mm = 0.0
[shared.stock]
stock_mm = [600, 300]
saw_gap_mm = 3.0
spare_share = 0.0
[shared.forecast]
quality = "off"
[shared.vents]
enabled = false
"""
PARTS = """
[[part]]
name = "Plate"
file = "box.stl"
twin = "x"
twin_name = "Other plate"
count = 2
[part.base]
riser_mm = 8.0

[[part]]
file = "box.stl"
sizes_mm = { S = 20, L = 40 }
[part.size]
measure = "width"
"""


class OneByOne:
    """Works tasks out in this process and counts them; stops after so many."""

    def __init__(self, stop_after=None):
        self.names, self._stop_after = [], stop_after

    def run(self, tasks):
        for task in tasks:
            if len(self.names) == self._stop_after:
                raise KeyboardInterrupt
            self.names.append(task.name)
            yield work_out(task)


@pytest.fixture
def project(sculpt):
    def written(parts=PARTS, about=""):
        path = sculpt.parent / "guard.toml"
        path.write_text(SHARED.format(about=about) + parts, encoding="utf-8")
        return path

    return written


def test_twins_and_sizes_are_bucks_of_their_own(project):
    found = read_project(project())
    assert [part.title for part in found.parts] == ["Plate", "Other plate", "box S", "box L"]
    assert [part.job.sculpt.mirror for part in found.parts] == ["none", "x", "none", "none"]
    assert [part.job.size.wanted_mm for part in found.parts] == [None, None, 20.0, 40.0]
    assert [part.job.stock.parts for part in found.parts] == [2, 2, 1, 1]
    assert {(part.job.sheet.material, part.job.sheet.thickness_mm) for part in found.parts} == {("PETG", 1.0)}
    assert [part.job.base.riser_mm for part in found.parts] == [8.0, 8.0, None, None]
    assert [part.job.job.name for part in found.parts] == [part.title for part in found.parts]
    assert {part.job.job.number for part in found.parts} == {"G-1"}


def test_the_twin_of_a_mirrored_part_is_the_sculpt_as_it_is(project):
    found = read_project(project("[[part]]\nfile = 'box.stl'\ntwin = 'x'\n[part.sculpt]\nmirror = 'x'\n"))
    assert [part.job.sculpt.mirror for part in found.parts] == ["x", "none"]


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ("", "there is no part"),
        ("[[part]]\nname = 'a'\n", "part 1 names no job file or sculpt"),
        ("[[part]]\nfile = 'box.stl'\ntwin = 'up'\n", "twin must be one of x, y, z; got 'up'"),
        ("[[part]]\nfile = 'box.stl'\nfiel = 'b'\n", "did you mean file"),
        ("[[part]]\nfile = 'box.stl'\nsizes_mm = { S = 20 }\n", "set size.measure"),
        ("[[part]]\nfile = 'box.stl'\ncount = 0\n", "count must be between 1"),
        ("[[part]]\nfile = 'box.stl'\ncount = true\n", "count must be a whole number"),
        ("[[part]]\nfile = 'box.stl'\n[part.base]\nriser_mm = 999\n", "riser_mm must be between"),
        ("[[part]]\nfile = 'gone.toml'\n", "there is no such job file"),
        ("[[part]]\nfile = 'box.stl'\n" * 2, "2 parts are called 'box': give each a name of its own"),
        ("[[part]]\nfile = 'box.stl'\ntwin = 'x'\ntwin_name = 'box'\n", "2 parts are called 'box'"),
        ("[shared]\nhollow = 3\n[[part]]\nfile = 'box.stl'\n", "[shared] hollow must be a table, got 3"),
        ("[shared.shete]\n[[part]]\nfile = 'box.stl'\n", "did you mean sheet"),
    ],
)
def test_what_is_wrong_is_told_in_words(project, parts, told):
    with pytest.raises(JobError, match="cannot be used") as error:
        read_project(project(parts))
    assert told in str(error.value)


def _report(blank, count, opening=(200.0, 150.0), buck=(80.0, 60.0, 40.0)):
    return {
        "cutting": {"blank_mm": blank, "blanks": count, "sheets": count},
        "rig": {"opening_mm": opening},
        "buck": {"size_mm": buck},
    }


def test_blanks_of_all_parts_share_sheets(project):
    """Two of 300 x 300 and two of 295 x 145 need three sheets of 600 x 300 alone, two together."""
    parts = read_project(project()).parts
    done = [(parts[0], _report((295.0, 295.0), 1)), (parts[1], _report((295.0, 145.0), 2))]
    done[1][1]["cutting"]["sheets"] = 1
    (sheet,) = sheets_of(done)
    assert (sheet.together.count, sheet.together.least, sheet.alone) == (1, 1, 2)
    (laid,) = sheet.together.sheets
    assert sorted(one.name for one in laid.pieces) == ["Other plate", "Other plate", "Plate"]
    assert len(sheet.cuts[0].cuts) >= 2
    other = parts[1].job.evolved(sheet={"thickness_mm": 0.5})
    parts_apart = [done[0], (type(parts[1])("b", "b", other, 1), done[1][1])]
    assert [one.thickness_mm for one in sheets_of(parts_apart)] == [1.0, 0.5]


def test_frames_are_shared_where_they_are_alike(project):
    parts = read_project(project()).parts
    openings = ((200.0, 150.0), (200.2, 150.1), (220.0, 150.0))
    frames = frames_of([(part, _report((1, 1), 1, one)) for part, one in zip(parts, openings)])
    assert [frame.parts for frame in frames] == [("Plate", "Other plate"), ("box S",)]


def test_one_frame_leaves_every_part_its_gap(project):
    parts = read_project(project()).parts
    bucks = ((80.0, 60.0, 40.0), (50.0, 70.0, 80.0))  # gaps of 25 and 40 mm
    measured = [(part, _report((1, 1), 1, buck=buck)) for part, buck in zip(parts, bucks)]
    assert common_frame(measured) == (130.0, 150.0)
    job = parts[0].job.evolved(forecast={"frame_mm": (300.0, 300.0)})
    with pytest.raises(InputError, match="one_frame cannot choose for a"):
        common_frame([(type(parts[0])("a", "a", job, 1), _report((1, 1), 1))])


TWINS = """
[[part]]
name = "Plate"
file = "box.stl"
twin = "x"
sizes_mm = { L = 60 }
count = 2
[part.size]
measure = "width"
"""


def test_a_set_goes_on_where_it_was_stopped(project, tmp_path):
    found = read_project(project(TWINS))
    out = tmp_path / "out"
    with pytest.raises(KeyboardInterrupt):
        run_set(found, out, lambda: OneByOne(stop_after=1), pictures=False)
    rest = OneByOne()
    done = run_set(found, out, lambda: rest, pictures=False)
    assert rest.names == ["Plate_mirrored_L"]
    assert [row.state for row in done.rows] == ["done"] * 2
    told = json.loads((out / "set.json").read_text(encoding="utf-8"))
    assert [part["twin_of"] for part in told["parts"]] == [None, "Plate L"]
    page = (out / SET_PAGE).read_text(encoding="utf-8")
    assert "2 bucks, 4 parts." in page
    assert "Mirror image of Plate L." in page
    report = json.loads((out / "Plate_mirrored_L" / "report.json").read_text(encoding="utf-8"))
    assert report["size"]["measured_mm"] == pytest.approx(60.0)  # the box is 40 mm wide


def test_the_command_tells_what_failed(project, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("buckwright.many.executor.executor_for", lambda *_: OneByOne())
    path = project('[[part]]\nfile = "box.stl"\n[[part]]\nname = "Lost"\nfile = "lost.stl"\n')
    found = CliRunner().invoke(main, ["set", str(path), "--no-pictures"])
    assert found.exit_code == 1, found.output
    assert "Guard: 1 buck made, 1 failed." in found.output
    assert "Lost: " in found.output
    assert (tmp_path / "guard_set" / SET_PAGE).is_file()
