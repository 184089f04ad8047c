"""Runs of the samples give what they gave before.

The results beside this test, in `golden`, were recorded from the state of the library before stages were
introduced. On the same processor with the same libraries figures hold to a millionth, and every bit of the
meshes and arrays does. Another processor rounds other bits: triangles of a fill turn another way, and a
forecast takes another path within its band. There, sizes and volumes hold to a thousandth, counts of faces
to a fiftieth, thicknesses to the least band that a forecast shows; what hangs on single nodes of the sheet
and on pixels of the pockets (where air is caught last, short webs, how each place drains) is not compared.
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
#: By which share figures may differ on another processor; the first that a name begins with counts.
ELSEWHERE = {
    "forecast.mean_mm": 0.02,
    "forecast.areal_draw_ratio": 0.02,
    "forecast.thickness_percentiles_mm": 0.05,
    "thin_mm": 0.05,
    "weakest_mm": 0.2,
    "buck.faces": 0.02,
    "trapped_air": None,
    "webs": None,
    "drainage_s": None,
    "evacuation_s": None,
    "pockets": None,
    "vents": None,
    "channels": 0.05,
    "": 1e-3,
}


def test_every_sample_is_recorded():
    samples = {path.parent.name for path in record.SCENES.glob("*/job.toml")}
    assert set(record.COARSE) == samples == {path.stem for path in record.HERE.glob("*.json")}


def _differing(before, now, *, same_platform):
    """Names of figures that are not what they were."""
    if same_platform and list(now) != list(before):
        return sorted(set(now) ^ set(before))
    wrong = []
    for path, figure in before.items():
        share = (
            1e-6 if same_platform else next(ELSEWHERE[name] for name in ELSEWHERE if path.startswith(name))
        )
        if share is None:
            continue
        close = isinstance(figure, float) or (not same_platform and isinstance(figure, int))
        expected = pytest.approx(figure, rel=share, abs=NOISE) if close else figure
        if now.get(path) != expected:
            wrong.append((path, figure, now.get(path)))
    return wrong


@pytest.mark.parametrize("name", record.COARSE)
def test_a_sample_gives_what_it_gave(name, tmp_path):
    before, now = record.recorded(name), record.run_of(name, tmp_path)
    same = now["platform"] == before["platform"]
    assert _differing(before["figures"], now["figures"], same_platform=same) == []
    if same:
        assert now["hashes"] == before["hashes"]


def test_another_processor_may_differ_by_rounding_only():
    before = {"fill.added_volume_mm3": 100.0, "weakest_mm": 0.4, "fixings.count": 2, "vents.count": 9}
    now = {"fill.added_volume_mm3": 100.05, "weakest_mm": 0.42, "fixings.count": 2, "vents.count": 8}
    assert _differing(before, now, same_platform=False) == []
    assert len(_differing(before, now, same_platform=True)) == 3
    for path, figure in (("fill.added_volume_mm3", 100.2), ("weakest_mm", 0.5), ("fixings.count", 3)):
        assert _differing(before, now | {path: figure}, same_platform=False) == [(path, before[path], figure)]
    assert _differing(before, {"weakest_mm": 0.4}, same_platform=False)
