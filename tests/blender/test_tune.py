"""The search for better settings: the best kept in the scene, one taken over; started by its button."""

from pathlib import Path

import pytest


def _found(page):
    ranked = [
        {"name": "a", "title": "Riser 18 mm", "changes": {"base.riser_mm": 18.0}, "words": "", "faults": []},
        {"name": "as_set", "title": "As it is set", "changes": {}, "words": "", "faults": ["the part locks"]},
        {"name": "b", "title": "Fill All", "changes": {"fill.mode": "full"}, "words": "", "faults": []},
        {"name": "c", "title": "Gap 20 mm", "changes": {"forecast.gap_mm": 20.0}, "words": "", "faults": []},
    ]
    return {"tune": {"ranked": ranked, "own": "as_set", "page": str(page)}}


def test_a_candidate_is_taken_over_and_nothing_else_changes(addon, scene, fast, tmp_path):
    import bpy

    tuning = addon.scene.tuning
    assert not bpy.ops.buckwright.take_candidate.poll()
    tuning.keep(scene, _found(tmp_path / "tune.html"))
    assert [one["name"] for one in tuning.told(scene)["ranked"]] == ["a", "as_set", "b"]
    fast.fill.mode, fast.sheet.thickness_mm = "NONE", 1.25
    assert bpy.ops.buckwright.take_candidate(number=1) == {"FINISHED"}
    assert (fast.base.auto_riser_mm, fast.base.riser_mm) == (False, 18.0)
    assert bpy.ops.buckwright.take_candidate(number=3) == {"FINISHED"}
    assert fast.fill.mode == "FULL"
    assert fast.base.riser_mm == 18.0
    assert fast.sheet.thickness_mm == 1.25
    with pytest.raises(RuntimeError, match="no candidate 4"):
        bpy.ops.buckwright.take_candidate(number=4)
    assert not bpy.ops.buckwright.open_comparison.poll()
    (tmp_path / "tune.html").write_text("<p>", encoding="utf-8")
    assert bpy.ops.buckwright.open_comparison() == {"FINISHED"}


def test_set_ups_are_compared_by_the_child(addon, scene, solid, fast):
    import bpy

    sculpt = solid()
    before = [tuple(vertex.co) for vertex in sculpt.data.vertices]
    fast.forecast.nodes = 1000
    fast.vents.enabled = False
    fast.fill.mode = "NONE"
    assert bpy.ops.buckwright.tune(candidates=2) == {"FINISHED"}
    told = addon.scene.tuning.told(scene)
    assert len(told["ranked"]) == 2
    assert Path(told["page"]).is_file()
    assert addon.scene.running.now() is None
    assert [tuple(vertex.co) for vertex in sculpt.data.vertices] == before
