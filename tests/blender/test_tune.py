"""The search for better settings: the best kept in the scene, one taken over; started by its button."""

from pathlib import Path
from types import SimpleNamespace

import pytest


def _found(page):
    ranked = [
        {"name": "a", "title": "Riser 18 mm", "changes": {"base.riser_mm": 18.0}, "words": "", "faults": []},
        {"name": "as_set", "title": "As it is set", "changes": {}, "words": "", "faults": ["the part locks"]},
        {"name": "b", "title": "Fill All", "changes": {"fill.mode": "full"}, "words": "", "faults": []},
        {"name": "c", "title": "Gap 20 mm", "changes": {"forecast.gap_mm": 20.0}, "words": "", "faults": []},
    ]
    left = "None is free of a web. Raise it: base.riser_mm."
    return {"tune": {"ranked": ranked, "own": "as_set", "left": left, "page": str(page)}}


def test_a_variant_is_taken_over_and_nothing_else_changes(addon, scene, fast, tmp_path):
    import bpy

    tuning = addon.scene.tuning
    assert not bpy.ops.buckwright.take_variant.poll()
    page = str(tmp_path / "tune.html")
    tuning.keep(scene, _found(page))
    assert [one["name"] for one in tuning.told(scene)["ranked"]] == ["a", "as_set", "b"]
    assert tuning.told(scene)["left"] == "None is free of a web. Raise it: Riser."
    seen = []

    def layout(*_args, **_how):
        one = SimpleNamespace(label=lambda text="", **_how: seen.append(text), box=layout, column=layout)
        one.operator = lambda name, **_how: seen.append(name) or SimpleNamespace()
        return one

    bpy.types.BUCKWRIGHT_PT_tune.draw(SimpleNamespace(layout=layout()), bpy.context)
    takes = [name for name in seen if name == "buckwright.take_variant"]
    assert len(takes) == 2 and "2. As it is set" in seen, "what is set already is not to be taken"
    fast.fill.mode, fast.sheet.thickness_mm = "NONE", 1.25
    assert bpy.ops.buckwright.take_variant(number=1) == {"FINISHED"}
    assert (fast.base.auto_riser_mm, fast.base.riser_mm) == (False, 18.0)
    assert bpy.ops.buckwright.take_variant(number=3) == {"FINISHED"}
    assert fast.fill.mode == "FULL"
    assert fast.base.riser_mm == 18.0
    assert fast.sheet.thickness_mm == 1.25
    with pytest.raises(RuntimeError, match="no variant 4"):
        bpy.ops.buckwright.take_variant(number=4)
    tuning.keep(scene, {"tune": {"ranked": _found("")["tune"]["ranked"][3:], "own": "", "page": page}})
    fast.forecast.auto_frame_mm = False
    assert bpy.ops.buckwright.take_variant(number=1) == {"FINISHED"}
    assert (fast.forecast.auto_gap_mm, fast.forecast.gap_mm) == (False, 20.0)
    assert fast.forecast.auto_frame_mm  # it would count more than the gap
    assert not bpy.ops.buckwright.open_comparison.poll()
    (tmp_path / "tune.html").write_text("<p>", encoding="utf-8")
    assert bpy.ops.buckwright.open_comparison() == {"FINISHED"}


def test_a_folder_that_cannot_be_written_is_told(addon, scene, monkeypatch):
    import bpy

    def refuse(*_args, **_how):
        raise PermissionError

    monkeypatch.setattr(bpy.utils, "extension_path_user", refuse)
    for name in ("search", "job_sheets"):
        with pytest.raises(addon.scene.snapshot.Refused, match=r"extensions: make that folder writable"):
            addon.scene.kept_folder.kept_folder(name)


def test_settings_are_compared_by_the_child(addon, scene, solid, fast):
    import bpy

    sculpt = solid()
    before = [tuple(vertex.co) for vertex in sculpt.data.vertices]
    fast.forecast.nodes = 1000
    fast.vents.enabled = False
    fast.fill.mode = "NONE"
    assert bpy.ops.buckwright.tune(variants=2) == {"FINISHED"}
    told = addon.scene.tuning.told(scene)
    assert len(told["ranked"]) == 2
    assert Path(told["page"]).is_file()
    assert addon.scene.running.now() is None
    assert [tuple(vertex.co) for vertex in sculpt.data.vertices] == before
