"""The public face: from Python as a person uses it, with paths as text and sculpts in memory."""

import json
import subprocess
import sys

import numpy as np
import pytest
import trimesh

import buckwright as bw
from buckwright.api import standing_buck
from buckwright.cli import main
from buckwright.pipeline.run import run

CHEAP = {"pull": {"direction": "z"}, "fill": {"mode": "none"}, "vents": {"enabled": False}}
OFF = {"forecast": {"quality": "off"}}


@pytest.fixture(scope="module")
def home(sculpt_file, tmp_path_factory):
    """A folder with a sculpt and a job file."""
    folder = tmp_path_factory.mktemp("home")
    sculpt_file("cone").rename(folder / "cone.stl")
    job = bw.Job(sculpt={"file": "cone.stl"}, job={"name": "Kegel"}, **CHEAP, **OFF)
    (folder / "job.toml").write_text(bw.write_job(job), encoding="utf-8")
    return folder


def test_everything_that_is_offered_is_there():
    assert set(bw.__all__) <= set(dir(bw))
    for name in bw.__all__:
        assert getattr(bw, name) is not None
    with pytest.raises(AttributeError, match="forge"):
        bw.forge  # noqa: B018


def test_paths_may_be_text(home, tmp_path):
    job = bw.read_job(str(home / "job.toml"))
    assert job == bw.read_job(home / "job.toml")
    assert job.sculpt_path == home / "cone.stl"
    outcome = run("look", job, str(tmp_path / "out"), pictures=False, keep=str(tmp_path / "keep"))
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"look.ply", "look_report.json"}
    assert outcome.files and all(path.exists() for path in outcome.files)
    assert list((tmp_path / "keep").iterdir())


def test_results_for_a_program_are_among_the_files(home, tmp_path):
    outcome = run("look", bw.read_job(home / "job.toml"), None, results=str(tmp_path / "results"))
    assert {path.name for path in outcome.files} == {"report.json", "arrays.npz"}
    assert all(path.parent == tmp_path / "results" and path.exists() for path in outcome.files)
    both = run(
        "look",
        bw.read_job(home / "job.toml"),
        tmp_path / "out",
        pictures=False,
        results=tmp_path / "out" / "inner",
    )
    names = [str(path.relative_to(tmp_path / "out")) for path in both.files]
    assert sorted(names) == ["inner/arrays.npz", "inner/report.json", "look.ply", "look_report.json"]
    assert set(names[-2:]) == {"inner/report.json", "inner/arrays.npz"}  # those for people come first


def test_a_job_file_and_its_sculpt_give_the_same(home):
    named = bw.look(str(home / "job.toml"))
    direct = bw.look(str(home / "cone.stl"), **CHEAP)
    assert named.report["draft"] == direct.report["draft"]
    assert named.job.title == "Kegel" and direct.job.title == "cone"
    assert named.files == ()


def test_a_sculpt_in_memory_gives_what_its_file_gives(home):
    path = home / "cone.stl"
    sculpt = bw.load(str(path), unit="mm")
    mesh = trimesh.load_mesh(path)
    for source in (sculpt, sculpt.mesh, mesh, (mesh.vertices, mesh.faces)):
        outcome = bw.look(source, **CHEAP)
        assert outcome.report["draft"] == bw.look(path, **CHEAP).report["draft"]
        assert len(outcome.faces.draft_deg) == len(mesh.faces)


def test_make_gives_meshes_and_saves_what_a_run_writes(home, tmp_path):
    made = bw.make(home / "cone.stl", **CHEAP, forecast={"nodes": 4000})
    assert made.buck.bounds[0, 2] == 0.0
    assert made.sculpt.face_count == made.report["input"]["faces"]
    assert made.sheet.weakest_mm == pytest.approx(made.report["forecast"]["weakest"]["mm"], rel=1e-6)
    saved = made.save(str(tmp_path / "saved"), pictures=False)
    run("make", made.job, tmp_path / "run", pictures=False)
    for path in saved:
        assert path.parent == tmp_path / "saved"
        if path.name != "report.json":
            assert path.read_bytes() == (tmp_path / "run" / path.name).read_bytes()
    assert {path.name for path in saved} == {path.name for path in (tmp_path / "run").iterdir()}
    assert "img" in made._repr_html_() and "Kegel" not in repr(made)


def test_a_buck_that_exists_is_forecast_as_it_stands(home, tmp_path):
    drum = trimesh.creation.cylinder(radius=3.0, height=2.0)
    drum.export(tmp_path / "drum.stl")
    loaded = bw.load(tmp_path / "drum.stl", unit="cm")
    assert standing_buck(loaded).bounds[:, 2] == pytest.approx([0.0, 20.0])
    outcome = bw.forecast(on=loaded, forecast={"nodes": 4000})
    assert outcome.command.name == "forecast-on"
    assert outcome.sheet.mesh.vertices[:, 2].max() == pytest.approx(20.0, abs=0.1)
    assert "input" not in outcome.report and "buck" not in outcome.report
    with pytest.raises(bw.InputError, match="not both"):
        bw.forecast(home / "cone.stl", on=loaded)
    with pytest.raises(bw.InputError, match="use make"):
        _ = outcome.buck


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda home: bw.look(None), "there is no sculpt"),
        (lambda home: bw.look(bw.Job(), bw.Job()), "not two Jobs"),
        (lambda home: bw.look(home / "job.toml", bw.Job()), "not both"),
        (lambda home: bw.look(7), "a sculpt is a path"),
        (lambda home: bw.load(home / "cone.stl", unit="ell"), "ell"),
        (lambda home: bw.look(home / "cone.stl", shet={"thickness_mm": 1.0}), "did you mean sheet"),
        (lambda home: bw.look(home / "cone.stl", sheet={"thicknes_mm": 1.0}), "did you mean thickness_mm"),
        (lambda home: bw.look(home / "none.stl"), "does not exist"),
        (lambda home: run("melt", bw.Job()), "there is no command 'melt'"),
    ],
)
def test_what_cannot_be_is_refused_in_words(call, words, home):
    with pytest.raises(bw.InputError, match=words):
        call(home)


def test_a_job_does_not_change():
    job = bw.Job()
    with pytest.raises(AttributeError, match=r"evolved\(sheet="):
        job.sheet = None
    with pytest.raises(AttributeError, match="no table 'shet'"):
        _ = job.shet


def test_values_of_faces_have_names(home):
    faces = bw.look(home / "cone.stl", **CHEAP).faces
    assert {"draft_deg", "state", "undercut_mm", "sideways_mm", "region"} <= set(faces)
    np.testing.assert_array_equal(faces["state"], faces.state)
    with pytest.raises(AttributeError, match="no values 'colour'; there are"):
        _ = faces.colour


@pytest.mark.parametrize("words", [["--version"], ["look", "cone.stl", "--pull-direction", "z", "--json"]])
def test_the_package_is_the_command(words, home):
    """`python -m buckwright` does what `buckwright` does."""
    done = subprocess.run(
        [sys.executable, "-m", "buckwright", *words], cwd=home, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    if "--json" in words:
        assert json.loads(done.stdout)["command"] == "look"
    else:
        assert bw.__version__ in done.stdout and main.name
