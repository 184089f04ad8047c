"""Runs of the samples give what they gave before.

The results beside this test, in `golden`, were recorded from the state of the library before stages were
introduced. Figures hold on every platform, to a millionth; on the same processor with the same libraries
every bit of the meshes and arrays does.
"""

import importlib.util
from pathlib import Path

import pytest


def _recorder():
    place = Path(__file__).parent / "golden" / "record.py"
    spec = importlib.util.spec_from_file_location("golden_record", place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


record = _recorder()
#: Below this a figure is noise of the solver, such as the error of the sheet's volume.
NOISE = 1e-7


def test_every_sample_is_recorded():
    samples = {path.parent.name for path in record.SCENES.glob("*/job.toml")}
    assert set(record.COARSE) == samples == {path.stem for path in record.HERE.glob("*.json")}


@pytest.mark.parametrize("name", record.COARSE)
def test_a_sample_gives_what_it_gave(name, tmp_path):
    before, now = record.recorded(name), record.run_of(name, tmp_path)
    assert list(now["figures"]) == list(before["figures"])
    for path, figure in before["figures"].items():
        expected = pytest.approx(figure, rel=1e-6, abs=NOISE) if isinstance(figure, float) else figure
        assert now["figures"][path] == expected, path
    if now["platform"] == before["platform"]:
        assert now["hashes"] == before["hashes"]
