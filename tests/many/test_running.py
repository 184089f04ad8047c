"""Many jobs by a stand-in that works one after another: failures, resuming, the table."""

import csv
import io
import json
import os

import pytest

from buckwright.errors import BuckwrightError
from buckwright.many.done import DoneBook, key_of
from buckwright.many.entries import Entry, sweep_entries
from buckwright.many.running import Work, run_many
from buckwright.many.varying import Varied
from buckwright.many.work import work_out
from buckwright.pipeline.run import run


class OneByOne:
    """Works tasks out in this process; raises what it is told to after so many."""

    def __init__(self, stop_after=None):
        self.names, self._stop_after = [], stop_after

    def run(self, tasks):
        for task in tasks:
            if len(self.names) == self._stop_after:
                raise KeyboardInterrupt
            self.names.append(task.name)
            yield work_out(task)


@pytest.fixture
def work(tmp_path):
    return Work(title="drafts", command="look", out=tmp_path / "out", pictures=False)


@pytest.fixture
def entries(job):
    return sweep_entries(job, [Varied("draft.wanted_deg", (1.0, 2.0, 3.0))])


def _table(work):
    return list(csv.DictReader(io.StringIO((work.out / "table.csv").read_text(encoding="utf-8"))))


def _without_times(report):
    return {name: value for name, value in report.items() if name != "timing_s"}


def test_the_results_are_those_of_single_runs(entries, work, tmp_path):
    rows = run_many(entries, work, OneByOne())
    assert [(row.state, row.releases) for row in rows] == [("done", True)] * 3
    single = run("look", entries[1].job, tmp_path / "single", pictures=False)
    for path in single.files:
        twin = work.out / entries[1].name / path.name
        if path.name.endswith("report.json"):
            one, other = (json.loads(p.read_text(encoding="utf-8")) for p in (path, twin))
            assert _without_times(one) == _without_times(other)
        else:
            assert twin.read_bytes() == path.read_bytes()
    assert not list(work.out.rglob("*.part"))


def test_a_job_that_fails_stops_no_other(entries, work, job):
    gone = job.evolved(sculpt={"file": "gone.stl"})
    bad = [Entry("broken", None, wrong="[base] has no setting"), Entry("gone", gone)]
    rows = run_many([*bad, *entries], work, OneByOne())
    assert [row.state for row in rows] == ["failed", "failed", "done", "done", "done"]
    told = _table(work)
    assert [row["state"] for row in told] == [row.state for row in rows]
    assert told[0]["error"] == "[base] has no setting"
    assert "gone.stl" in told[1]["error"]
    assert [row["draft.wanted_deg"] for row in told[2:]] == ["1", "2", "3"]
    page = (work.out / "table.html").read_text(encoding="utf-8")
    assert "3 jobs done, 2 failed." in page
    assert "Failed: " in page


def test_an_unforeseen_error_is_told_too(entries, work, monkeypatch, capsys):
    def broken(*_args, **_how):
        raise ZeroDivisionError("by a test")

    monkeypatch.setattr("buckwright.pipeline.run.run", broken)
    (row,) = run_many(entries[:1], work, OneByOne())
    assert row.state == "failed"
    assert "internal error: ZeroDivisionError" in row.wrong
    assert "by a test" in capsys.readouterr().err


def test_what_is_done_is_not_done_again(entries, work, sculpt):
    first, again = OneByOne(), OneByOne()
    run_many(entries, work, first)
    before = (work.out / "table.csv").read_bytes()
    run_many(entries, work, again)
    assert (first.names, again.names) == ([entry.name for entry in entries], [])
    assert (work.out / "table.csv").read_bytes() == before


def test_a_change_is_done_again(entries, work, job, sculpt):
    run_many(entries, work, OneByOne())
    names = [entry.name for entry in entries]
    changed = Entry(names[1], entries[1].job.evolved(sheet={"material": "PETG"}), varied=entries[1].varied)
    (work.out / names[2] / "look.ply").unlink()
    again = OneByOne()
    run_many([entries[0], changed, entries[2]], work, again)
    assert again.names == names[1:]
    os.utime(sculpt, (1, 1))  # another time is no other content
    same = OneByOne()
    run_many([entries[0], changed, entries[2]], work, same)
    assert same.names == []
    sculpt.write_bytes(b"another title".ljust(80) + sculpt.read_bytes()[80:])
    other = OneByOne()
    run_many([entries[0], changed, entries[2]], work, other)
    assert other.names == names


def test_another_buck_of_the_pull_that_has_changed_is_a_change(job, tmp_path):
    (tmp_path / "lid").mkdir()
    buck = tmp_path / "lid" / "buck.stl"
    own = job.evolved(group={"others": f"{tmp_path / 'lid'}: 2; {tmp_path / 'tray.toml'}"})

    def key():
        return key_of("make", own, pictures=False)

    assert key() != key()  # files that are not there are never done
    buck.write_bytes(b"lid")
    sculpt = tmp_path / "tray.stl"
    sculpt.write_bytes(b"tray")
    (tmp_path / "tray.toml").write_text('[sculpt]\nfile = "tray.stl"\n', encoding="utf-8")
    first = key()
    assert key() == first
    buck.write_bytes(b"another lid")
    second = key()
    assert second != first
    sculpt.write_bytes(b"another tray")
    assert key() not in (first, second)


def test_a_stop_leaves_what_is_done(entries, work):
    with pytest.raises(KeyboardInterrupt):
        run_many(entries, work, OneByOne(stop_after=2))
    assert [row["state"] for row in _table(work)] == ["done", "done", "waiting"]
    # the last line was being written when the power went
    with (work.out / "done.jsonl").open("ab") as file:
        file.write(b'{"name": "dra')
    rest = OneByOne()
    run_many(entries, work, rest)
    assert rest.names == [entries[2].name]
    assert [row["state"] for row in _table(work)] == ["done"] * 3
    once_more = OneByOne()
    run_many(entries, work, once_more)
    assert once_more.names == []


def test_a_stop_right_after_a_job_was_noted_leaves_it_in_the_table(entries, work, monkeypatch):
    noted = DoneBook.add

    def stopped(book, one):
        noted(book, one)
        raise KeyboardInterrupt

    monkeypatch.setattr(DoneBook, "add", stopped)
    with pytest.raises(KeyboardInterrupt):
        run_many(entries, work, OneByOne())
    assert [row["state"] for row in _table(work)] == ["done", "waiting", "waiting"]


def test_a_folder_that_cannot_be_written_is_told_first(entries, job, tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    executor = OneByOne()
    with pytest.raises(BuckwrightError, match="was not written"):
        run_many(entries, Work(title="t", command="look", out=tmp_path / "file" / "out"), executor)
    assert executor.names == []
