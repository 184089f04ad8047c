"""The run for another program: a process that speaks JSON lines, stops when told and leaves nothing."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import trimesh

import buckwright
from buckwright.errors import MeshError
from buckwright.host import Request
from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.finished import refuse_unprintable

HOST = Path(buckwright.__file__).with_name("host.py")
#: Nothing here takes so long; a machine that is busy with other things gets it.
PATIENCE_S = 300.0
ODD = "Büste mit Lücken 像"
JOB = '[job]\nname = "Idol"\n[sculpt]\nfile = "{file}"\n[pull]\ndirection = "z"\n'


class Child:
    """A running host."""

    def __init__(self, request, folder, *, python=("-I",)):
        path = folder / f"{request['command']} request.json"
        path.write_text(json.dumps(request), encoding="utf-8")
        self.errors = folder / "errors.txt"
        with self.errors.open("wb") as errors:
            self.process = subprocess.Popen(
                [sys.executable, *python, str(HOST), str(path)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                cwd="/" if os.name == "posix" else None,
            )
        self.messages = []

    def close(self):
        for stream in (self.process.stdin, self.process.stdout):
            stream.close()
        self.process.kill()
        self.process.wait()

    def until(self, name):
        """Read messages up to the first of a step."""
        for line in self.process.stdout:
            self.messages.append(json.loads(line))
            if self.messages[-1].get("name") == name:
                return
        pytest.fail(f"ended before {name}: {self.messages}")

    def end(self):
        """Everything it still says, and its exit code."""
        # not `communicate`, which closes the input: that would be a stop
        self.messages += [json.loads(line) for line in self.process.stdout]
        self.process.wait(timeout=PATIENCE_S)
        errors = self.errors.read_text(encoding="utf-8")
        assert "Traceback" not in errors, errors
        return self.messages[-1], self.process.returncode


@pytest.fixture
def start(tmp_path):
    """Starter of hosts."""
    with contextlib.ExitStack() as stack:

        def child(request, **options):
            return stack.enter_context(contextlib.closing(Child(request, tmp_path, **options)))

        yield child


@pytest.fixture
def ask(tmp_path, shape):
    """Maker of requests over a snapshot of a shape; paths with spaces and letters of other scripts."""

    def request(command, what="idol", *, job="", **entries):
        home = tmp_path / ODD
        home.mkdir(exist_ok=True)
        mesh = shape(what) if isinstance(what, str) else what
        np.savez(home / "mein sculpt.npz", vertices=mesh.vertices, faces=mesh.faces)
        (home / "job.toml").write_text(JOB.format(file="mein sculpt.npz") + job, encoding="utf-8")
        return {
            "command": command,
            "job": str(home / "job.toml"),
            "out": str(home / "out"),
            "results": str(home / "inner" / "results"),
            "keep": None,
            "pictures": False,
        } | entries

    return request


def _files(folder):
    return sorted(str(path.relative_to(folder)) for path in Path(folder).rglob("*"))


def test_make_says_its_steps_and_hands_the_buck_over(start, tmp_path, ask):
    request = ask("make")
    child = start(request)
    last, code = child.end()
    assert (last["kind"], last["releases"], code) == ("done", True, 0)
    names = [message["name"] for message in child.messages[:-1]]
    order = list(dict.fromkeys(names))
    assert order[0] == "starting"
    assert order.index("surveying the sculpt") < order.index("filling undercuts") < order.index("writing")
    assert all(0.0 <= message["share"] <= 1.0 for message in child.messages[:-1])
    assert all("\n" not in json.dumps(message) for message in child.messages)
    assert sorted(path.name for path in Path(request["results"]).iterdir()) == ["arrays.npz", "report.json"]
    assert Path(last["report"]).read_bytes() == (Path(request["out"]) / "report.json").read_bytes()
    stl = trimesh.load_mesh(Path(request["out"]) / "buck.stl")
    with np.load(last["arrays"], allow_pickle=False) as arrays:
        assert len(arrays["buck_faces"]) == len(stl.faces)
        np.testing.assert_allclose(arrays["buck_vertices"][arrays["buck_faces"]], stl.triangles, atol=1e-4)
        report = json.loads(Path(last["report"]).read_text(encoding="utf-8"))
        np.testing.assert_array_equal(arrays["frame"], report["frame"]["matrix"])
        assert len(arrays["vents"]) == len(report["vents"]) == len(arrays["vent_kind"])


def test_files_for_people_begin_as_asked(start, tmp_path, ask):
    request = ask("look", "cone", prefix="Idol_")
    last, code = start(request).end()
    assert (last["kind"], code) == ("done", 0)
    out = Path(request["out"])
    assert {"Idol_look_report.json", "Idol_look.ply"} <= set(_files(out))
    assert all(name.startswith("Idol_") for name in _files(out))
    report = json.loads((out / "Idol_look_report.json").read_text(encoding="utf-8"))
    assert set(report["files"]) == set(_files(out)) - {"Idol_look_report.json"}


def test_a_finished_buck_is_checked_and_written_as_it_is(start, tmp_path, ask, shape):
    mesh = shape("cone")
    request = ask("finished", mesh, prefix="Mein ")
    last, code = start(request).end()
    assert (last["kind"], code) == ("done", 0)
    assert _files(request["out"]) == ["Mein buck.3mf", "Mein buck.stl"]
    written = trimesh.load_mesh(Path(request["out"]) / "Mein buck.stl")
    np.testing.assert_allclose(written.bounds, mesh.bounds, atol=1e-4)


def test_what_a_slicer_would_have_to_guess_at_is_refused(shape):
    cone, box = shape("cone"), shape("cone")
    moved = np.concatenate([cone.vertices, box.vertices + cone.size / 3.0])
    for faces, words in (
        (cone.faces[1:], "3 open edges"),
        (np.concatenate([cone.faces[:1, ::-1], cone.faces[1:]]), "3 edges of a flipped face"),
        (cone.faces[:, ::-1], "inside out"),
        (np.concatenate([cone.faces, cone.faces[:1, [0, 2, 1]], cone.faces[:1]]), "more than two faces"),
    ):
        with pytest.raises(MeshError, match=words):
            refuse_unprintable(Mesh(cone.vertices, faces))
    both = Mesh(moved, np.concatenate([cone.faces, box.faces + cone.vertex_count]))
    with pytest.raises(MeshError, match="faces that cross"):
        refuse_unprintable(both)
    refuse_unprintable(cone)


def test_look_without_files_for_people(start, tmp_path, ask):
    request = ask("look", out=None)
    last, code = start(request).end()
    assert (last["kind"], code) == ("done", 0)
    assert not (tmp_path / ODD / "out").exists()
    with np.load(last["arrays"], allow_pickle=False) as arrays:
        assert arrays["state"].shape == arrays["draft_deg"].shape
        assert set(np.unique(arrays["state"])) <= {-1, 0, 1, 2, 3}
        assert not arrays["repaired"]


def _stop_by_word(process):
    process.stdin.write(b"stop\n")
    process.stdin.flush()


def _stop_by_end(process):
    process.stdin.close()


def _stop_by_signal(process):
    process.send_signal(signal.SIGINT)


@pytest.mark.parametrize("stop", [_stop_by_word, _stop_by_end, _stop_by_signal])
def test_stopping_in_the_middle_leaves_nothing(start, tmp_path, ask, stop):
    # a fill so fine that it would take minutes
    request = ask("make", job="[fill]\ncell_mm = 0.05\n")
    before = _files(tmp_path / ODD)
    child = start(request)
    child.until("filling undercuts")
    time.sleep(0.5)
    stop(child.process)
    last, code = child.end()
    assert (last, code) == ({"kind": "stopped"}, 4)
    assert child.messages[-2]["name"].startswith("filling undercuts"), "it did not go on to another step"
    assert child.messages[-2]["share"] < 1.0
    assert _files(tmp_path / ODD) == before


_INTERRUPTED_IMPORT = """
import os, runpy, signal, sys
class Interrupting:
    def find_spec(self, name, *_):
        if name == "tempfile":
            os.kill(os.getpid(), getattr(signal, sys.argv[1]))
sys.meta_path.insert(0, Interrupting())
runpy.run_path(sys.argv[2], run_name="__main__")
"""


@pytest.mark.skipif(os.name != "posix", reason="interrupts by signal")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_stop_while_its_modules_are_loaded(name):
    words = [sys.executable, "-I", "-c", _INTERRUPTED_IMPORT, name, str(HOST)]
    done = subprocess.run(words, capture_output=True, check=False, timeout=PATIENCE_S)
    assert (json.loads(done.stdout), done.returncode, done.stderr) == ({"kind": "stopped"}, 4, b"")


def test_a_stop_before_anything_began(start, tmp_path, ask):
    request = ask("look")
    before = _files(tmp_path / ODD)
    child = start(request)
    _stop_by_word(child.process)
    assert child.end() == ({"kind": "stopped"}, 4)
    assert _files(tmp_path / ODD) == before


def _workers(process):
    """Process ids of the workers of a host."""
    return [int(pid) for pid in Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()]


@pytest.mark.skipif(sys.platform != "linux", reason="looks for the worker in /proc")
def test_a_worker_that_dies_is_told_of(start, tmp_path, ask):
    request = ask("make", job="[fill]\ncell_mm = 0.05\n")
    before = _files(tmp_path / ODD)
    child = start(request)
    child.until("filling undercuts")
    os.kill(_workers(child.process)[0], signal.SIGKILL)
    last, code = child.end()
    assert (last["kind"], last["error"], code) == ("failed", "Crash", 1)
    assert "memory" in last["words"]
    assert _files(tmp_path / ODD) == before


@pytest.mark.skipif(sys.platform != "linux", reason="looks for the worker in /proc")
def test_a_worker_ends_with_the_one_that_watches(start, tmp_path, ask):
    request = ask("make", "mushroom", job="[fill]\ncell_mm = 0.05\n")
    before = _files(tmp_path / ODD)
    child = start(request)
    child.until("reading the sculpt")
    worker = _workers(child.process)[0]
    child.process.kill()
    child.process.wait(timeout=PATIENCE_S)
    deadline = time.monotonic() + PATIENCE_S
    while Path(f"/proc/{worker}").exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not Path(f"/proc/{worker}").exists()
    assert _files(tmp_path / ODD) == before


@pytest.mark.skipif(os.name != "posix", reason="whether a process runs is asked there only")
def test_scratch_folders_of_killed_hosts_are_swept(tmp_path, monkeypatch):
    from buckwright import host

    monkeypatch.setattr(host.tempfile, "tempdir", str(tmp_path))
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    stay = [f"buckwright-{os.getpid()}-x2", "buckwright-cache", "other-1-x"]
    for name in (f"buckwright-{gone.pid}-x1", *stay):
        (tmp_path / name).mkdir()
        (tmp_path / name / "half").write_text("")
    host.sweep_scratch()
    assert _files(tmp_path)[::2] == stay


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"command": "melt"}, "command must be one of"),
        ({"job": 7}, "job must be a path"),
        ({"results": None}, "results must be a path"),
        ({"pictures": "yes"}, "pictures must be"),
        ({"colour": "red"}, "unknown entries: colour"),
        ({"python_path": "x"}, "list of folders"),
        ({"prefix": "../x"}, "prefix must begin"),
        ({"command": "finished", "out": None}, "needs a folder"),
    ],
)
def test_a_request_that_cannot_be_met(start, tmp_path, ask, change, words):
    path = tmp_path / "request.json"
    path.write_text(json.dumps(ask("look") | change), encoding="utf-8")
    with pytest.raises(ValueError, match=words):
        Request.read(str(path))


@pytest.mark.parametrize("text", [None, "{", "[]", "\udcff"])
def test_a_request_that_cannot_be_read(tmp_path, text):
    path = tmp_path / "request.json"
    if text is not None:
        path.write_text(text, encoding="utf-8", errors="surrogateescape")
    done = subprocess.run(
        [sys.executable, "-I", str(HOST), str(path)],
        input=b"",
        capture_output=True,
        timeout=PATIENCE_S,
        check=False,
    )
    last = json.loads(done.stdout.splitlines()[-1])
    assert (done.returncode, last["kind"], last["error"]) == (2, "failed", "InputError")
    assert not done.stderr


def test_bad_input_is_told_in_words(start, tmp_path, ask):
    request = ask("make")
    (tmp_path / ODD / "mein sculpt.npz").write_bytes(b"PK\x03\x04 nothing")
    before = _files(tmp_path / ODD)
    last, code = start(request).end()
    assert (last["kind"], last["error"], code) == ("failed", "MeshError", 2)
    assert "mein sculpt.npz" in last["words"]
    assert _files(tmp_path / ODD) == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written(start, tmp_path, ask):
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o500)
    last, code = start(ask("look", results=str(shut / "results"))).end()
    assert (last["error"], code) == ("OutputError", 2)
    assert "no permission" in last["words"]


def test_a_file_where_a_folder_is_wanted(start, tmp_path, ask):
    (tmp_path / "taken").write_text("")
    last, code = start(ask("look", results=str(tmp_path / "taken"))).end()
    assert (last["error"], code) == ("OutputError", 2)
    assert (tmp_path / "taken").read_text() == ""


def test_started_without_isolation_it_finds_its_own_modules(start, tmp_path, ask):
    # the folder of a script comes first on the path then, and holds modules of common names
    last, code = start(ask("look", "cone"), python=()).end()
    assert (last["kind"], code) == ("done", 0)
