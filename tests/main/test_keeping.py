"""The stage store: the same buck with and without it, and no more work than a change asks for."""

import json
import shutil
from dataclasses import dataclass
from functools import partial

import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.packing import Packer, unpacked
from buckwright.pipeline.run import run as run_command
from buckwright.pipeline.store import KEPT
from buckwright.shape.solid import as_solid, faces_of, new_mark, united
from buckwright.shape.solid_arrays import Body, arrays_of

look = partial(run_command, "look")
make = partial(run_command, "make")

STAGES = ["setups", "pose", "survey", "proposal", "fill", "heating", "hold", "pockets", "forecast"]
"""Stages whose results are kept, in the order in which a run asks for them."""


@pytest.fixture(scope="module")
def first(job_of, sculpt_file, tmp_path_factory):
    """The store of a first run."""
    folder = tmp_path_factory.mktemp("first")
    job = job_of(sculpt_file("idol", name="idol.stl"), job={"name": "Idol"})
    outcome = make(job, folder / "out", results=folder / "out" / "results", keep=folder / "keep")
    return outcome.report, folder / "out", folder / "keep", job


@pytest.fixture
def made(first, tmp_path):
    """Maker of bucks over a copy of that store: (report, folder)."""
    shutil.copytree(first[2], tmp_path / "keep")
    count = iter(range(100))

    def buck(*, keep=True, run=make, pictures=False, **tables):
        out = tmp_path / f"out{next(count)}"
        job = first[3].evolved(**tables)
        kept = tmp_path / "keep" if keep else None
        outcome = run(job, out, pictures=pictures, results=out / "results", keep=kept)
        return outcome.report, out

    return buck


def _kept(report):
    return [name.removesuffix(" (kept)") for name in report["timing_s"] if name.endswith(" (kept)")]


def _but_times(report):
    return json.dumps({name: value for name, value in report.items() if name not in ("timing_s", "files")})


def _arrays(folder):
    with np.load(folder / "results" / "arrays.npz", allow_pickle=False) as held:
        return {name: held[name] for name in held.files}


def _same(one, other):
    """Whether two runs gave the same, bit for bit."""
    (report, folder), (report2, folder2) = one, other
    assert _but_times(report) == _but_times(report2)
    for path in folder2.iterdir():
        if path.suffix in (".stl", ".ply", ".png"):
            assert path.read_bytes() == (folder / path.name).read_bytes(), path.name
    arrays, arrays2 = _arrays(folder), _arrays(folder2)
    assert set(arrays) == set(arrays2)
    for name, array in arrays.items():
        np.testing.assert_array_equal(array, arrays2[name], strict=True)


def test_the_same_job_again_is_all_kept_and_the_same(first, made):
    bare, second = made(keep=False, pictures=True), made(pictures=True)
    assert _kept(bare[0]) == _kept(first[0]) == []
    assert _kept(second[0]) == STAGES
    assert not {"reading the sculpt", "filling undercuts"} & set(second[0]["timing_s"])
    _same(bare, first[:2])
    _same(bare, second)


@pytest.mark.parametrize(
    ("change", "kept"),
    [
        ({"vents": {"at_mm": [[9.0, -8.0, 33.0]]}}, STAGES),
        ({"vents": {"back_bore_mm": 3.0}, "underside": {"fixing": "magnet"}}, STAGES),
        (
            {"vents": {"min_pocket_mm": 0.8}},
            ["setups", "pose", "survey", "proposal", "fill", "heating", "hold", "forecast"],
        ),
        ({"base": {"riser_mm": 20.0}}, ["setups", "pose", "survey", "proposal", "fill", "heating"]),
        (
            {"base": {"outline_mm": [[-70, -60], [70, -60], [0, 80]]}},
            ["setups", "pose", "survey", "proposal", "fill", "heating"],
        ),
        ({"fill": {"mode": "locked"}}, ["setups", "pose", "survey", "proposal", "heating"]),
        ({"sheet": {"thickness_mm": 1.0}}, ["setups"]),
        ({"base": {"sink_mm": 2.0}}, ["heating"]),
    ],
)
def test_a_change_redoes_only_what_depends_on_it(made, change, kept):
    changed = made(**change)
    assert _kept(changed[0]) == kept
    _same(made(keep=False, **change), changed)


def test_a_look_and_a_make_share_the_sculpt(made):
    assert _kept(made(run=look)[0]) == ["setups", "pose", "survey", "proposal"]


def test_setups_are_drawn_from_what_is_kept(job_of, tmp_path):
    job, keep = job_of("ball", base={"sink_mm": "auto"}), tmp_path / "keep"
    first, again = (look(job, tmp_path / name, keep=keep, pictures=True) for name in ("one", "two"))
    assert len(first.report["setups"]) > 1
    assert _kept(again.report) == ["setups", "pose", "survey", "proposal"]
    pictures = [(tmp_path / name / "setups.png").read_bytes() for name in ("one", "two")]
    assert pictures[0] == pictures[1]


def test_another_sculpt_in_the_same_file_is_no_old_one(job_of, sculpt_file, shape, tmp_path):
    path = sculpt_file("cone")
    first = look(job_of(path), None, keep=tmp_path)
    path.write_bytes(sculpt_file("tight_cone").read_bytes())
    second = look(job_of(path), None, keep=tmp_path)
    assert first.report["draft"] != second.report["draft"]


@pytest.mark.parametrize("damage", ["cut", "flipped", "foreign", "empty", "folder"])
def test_broken_entries_are_ignored(first, made, tmp_path, damage):
    for path in (tmp_path / "keep").iterdir():
        data = bytearray(path.read_bytes())
        if damage == "cut":
            path.write_bytes(data[: len(data) // 2])
        elif damage == "flipped":
            data[len(data) // 3] ^= 255
            path.write_bytes(data)
        elif damage == "foreign":
            np.savez(path, label=np.frombuffer(b'{"key": 7}', np.uint8))
        elif damage == "empty":
            path.write_bytes(b"")
        else:
            path.unlink()
            path.mkdir()
    again = made()
    assert _kept(again[0]) == []
    _same(first[:2], again)


@pytest.mark.parametrize("poison", [5, {"path": "/dev/zero"}, {"list": []}, {"array": 0, "single": True}])
def test_entries_that_are_whole_but_wrong_are_worked_out_anew(job_of, tmp_path, poison):
    job, keep = job_of("cone"), tmp_path / "keep"
    first = look(job, None, keep=keep)
    for path in keep.iterdir():
        with np.load(path, allow_pickle=False) as held:
            arrays = {name: held[name] for name in held.files}
        label = json.loads(arrays.pop("label").tobytes())
        label["tree"] = poison
        np.savez(path, label=np.frombuffer(json.dumps(label).encode(), np.uint8), **arrays)
    again = look(job, None, keep=keep)
    assert _but_times(again.report) == _but_times(first.report)
    assert _kept(again.report) == []
    assert _kept(look(job, None, keep=keep).report) == ["setups", "pose", "survey", "proposal"]


def test_only_the_last_results_of_a_stage_stay(job_of, tmp_path):
    job = job_of("cone")
    for n in range(KEPT + 2):
        look(job.evolved(draft={"wanted_deg": 2.0 + n}), None, keep=tmp_path)
        entries = sorted(tmp_path.glob("survey-*"))
        assert len(entries) == min(n + 1, KEPT)
    kept = _kept(look(job.evolved(draft={"wanted_deg": 2.0 + n}), None, keep=tmp_path).report)
    assert kept == ["setups", "pose", "survey", "proposal"]
    # the pull is given, so that another draft takes the same aim and the same pose
    assert _kept(look(job.evolved(draft={"wanted_deg": 2.0}), None, keep=tmp_path).report) == ["pose"]


def test_a_store_that_cannot_be_written_does_no_harm(job_of, tmp_path):
    (tmp_path / "keep").write_text("a file")
    outcome = look(job_of("cone"), None, keep=tmp_path / "keep")
    assert outcome.report["draft"]["free_share"] > 0
    assert [path.name for path in tmp_path.iterdir()] == ["keep"]


def test_a_solid_comes_back_with_its_marks(shape):
    mark = new_mark()
    one = as_solid(shape("idol"), mark=mark)
    body = united([one, as_solid(shape("box").transformed(_moved(7.3)))])
    packer = Packer()
    tree = json.loads(json.dumps(packer.packed(Body(arrays_of(body)))))
    back = unpacked(tree, packer.arrays.__getitem__)
    for name in ("vertices", "faces", "run_index", "face_id"):
        np.testing.assert_array_equal(getattr(arrays_of(body), name), getattr(arrays_of(back.solid), name))
    assert back.mark(mark) != mark
    marked = faces_of(body, mark)
    assert marked.any() and not marked.all()
    np.testing.assert_array_equal(marked, faces_of(back.solid, back.mark(mark)))


@dataclass(frozen=True)
class Foreign:
    """A record that is not of the library."""

    number: int


def _moved(x):
    matrix = np.eye(4)
    matrix[:3, 3] = x, 0.7 * x, -0.9
    return matrix


def test_packing_keeps_values_as_they_are():
    shared = np.arange(6.0).reshape(2, 3)
    mesh = Mesh(shared, np.zeros((0, 3), np.int32))
    value = (1, -0.0, 0.1 + 0.2, float("inf"), True, None, "é", [shared, mesh], {"a": np.float64(1 / 3)})
    packer = Packer()
    tree = json.loads(json.dumps(packer.packed(value)))
    assert len(packer.arrays) == 3
    back = unpacked(tree, packer.arrays.__getitem__)
    assert repr(back[:7]) == repr(value[:7])
    assert back[7][0] is back[7][1].vertices is shared
    assert back[8]["a"] == 1 / 3
    with pytest.raises(ValueError, match="unknown entry"):
        unpacked({"code": "print()"}, packer.arrays.__getitem__)
    for stranger in (object(), Foreign(1)):
        with pytest.raises(TypeError, match="cannot keep"):
            packer.packed(stranger)


@pytest.mark.parametrize(
    "place",
    [
        "os:system",
        ".mesh.triangles:NoSuch",
        ".no_such_room:Mesh",
        ".errors:JobError",
        ".pipeline.store:hashed",
        ".mesh.triangles:Mesh.from_arrays",
        "..evil:Mesh",
    ],
)
def test_only_records_of_the_library_are_looked_up(place):
    with pytest.raises(ValueError, match="record"):
        unpacked({"record": place, "fields": {}}, [].__getitem__)


def test_a_record_with_other_fields_is_refused():
    tree = Packer().packed(Mesh(np.zeros((3, 3)), np.zeros((1, 3), np.int32)))
    del tree["fields"]["faces"]
    with pytest.raises(ValueError, match="other fields"):
        unpacked(tree, [np.zeros((3, 3))].__getitem__)
