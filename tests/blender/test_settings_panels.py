"""Settings in panels: labels are whole, units stand beside numbers, automatic values tell what they are."""

import json
from types import SimpleNamespace

import bpy
import numpy as np
import pytest


class _Layout:
    """Stands for a layout: remembers texts of labels and properties, with what they are about."""

    def __init__(self, said):
        self.__dict__["said"] = said

    def label(self, *, text="", icon="NONE"):
        self.said.append(("label", "", text))

    def prop(self, _data, name, *, text="", **_how):
        self.said.append(("prop", name, text))

    def row(self, *, heading="", **_how):
        self.said.append(("label", "", heading))
        return _Layout(self.said)

    def __getattr__(self, _name):
        return lambda *_args, **_how: _Layout(self.said)

    def __setattr__(self, name, value):
        pass


def _drawn(addon, scene, field):
    said = []
    addon.ui.panels_of_settings.draw_field(_Layout(said), scene, field.table, field.key)
    return said


def test_no_label_is_wider_than_its_room(addon, scene, monkeypatch):
    """In a sidebar of the usual width labels beside their value have two fifths of the room."""
    panels, paragraphs = addon.ui.panels_of_settings, addon.ui.paragraphs
    monkeypatch.setattr(panels, "room_px", lambda _context: 280.0 - 62.0)
    long = []
    for by_rule in (True, False):
        for field in addon.scene.fields.fields():
            group = getattr(scene.buckwright, field.table)
            if field.has_auto:
                setattr(group, field.auto, by_rule)
            if field.kind == "switch":
                continue  # its label has the whole line
            for kind, name, text in _drawn(addon, scene, field):
                beside = kind == "prop" and not name.startswith("auto_") and text.strip()
                if beside and paragraphs.width_px(text, bpy.context) > 0.42 * 218.0:
                    long.append(text)
    assert long == []
    said = _drawn(addon, scene, addon.scene.fields.field_of("fit", "formed_thickness_mm"))
    assert ("label", "", "Formed Thickness") in said
    scene.buckwright.forecast.auto_frame_mm = True
    scene.buckwright_results.facts = json.dumps({"automatic": {"forecast.frame_mm": [1260.0, 1240.0]}})
    said = _drawn(addon, scene, addon.scene.fields.field_of("forecast", "frame_mm"))
    assert said == [
        ("label", "", "Frame"),
        ("label", "", ""),
        ("prop", "auto_frame_mm", "Auto: 1260 x 1240 mm"),
    ]


def test_times_and_pressures_have_their_unit(addon, scene):
    units = {"s": "target_s", "kPa": "plenum_kpa"}
    scene.buckwright.vents.auto_plenum_kpa = False
    for unit, key in units.items():
        field = addon.scene.fields.field_of("vents", key)
        assert field.setting.unit == unit
        assert any(f"({unit})" in text for _kind, _name, text in _drawn(addon, scene, field))


def test_the_wanted_draft_of_the_sheet_is_told_at_once(addon, scene):
    field = addon.scene.fields.field_of("draft", "wanted_deg")
    scene.buckwright.sheet.material = "HIPS"
    assert ("prop", "auto_wanted_deg", "Auto: 3°") in _drawn(addon, scene, field)
    scene.buckwright.draft.texture_depth_mm = 0.0254  # a degree for each thousandth of an inch
    assert ("prop", "auto_wanted_deg", "Auto: 4°") in _drawn(addon, scene, field)
    price = addon.scene.fields.field_of("stock", "price")
    assert ("prop", "auto_price", "Auto: no price") in _drawn(addon, scene, price)


@pytest.fixture
def shown(addon):
    """Legends of a few faces: their texts."""
    overlay, legend = addon.view.overlay, addon.view.legend

    def texts(scene, states, shares, drafts):
        one = SimpleNamespace(
            live=False,
            quantity=addon.view.ramps.STATE,
            missing=False,
            values={"state": np.array(states, np.int32), "draft_deg": np.array(drafts, np.float32)},
            shares=shares,
            wanted_deg=3.0,
            lowest=-6.0,
            highest=24.0,
            sheet_mm=0.0,
            is_formed=False,
        )
        assert overlay is not None
        found = []
        for quantity in (addon.view.ramps.STATE, addon.view.ramps.DRAFT):
            one.quantity = quantity
            plate = legend.plate_of(bpy.context, one)
            found.append([row[1] for kind, row in plate.rows if kind == "patch"])
        return found

    return texts


def test_grey_stands_in_the_legend_where_there_is_some(addon, scene, shown):
    for grey in (3, -1):  # of the base; cut off below the platen
        state, draft = shown(scene, [0, 1, 2, grey], (0.5, 0.02, 0.48), [5.0, 1.0, -2.0, np.nan])
        assert state[-1] == draft[-1] == "Cut off or base"
    state, draft = shown(scene, [0, 1, 2, 2], (0.5, 0.02, 0.48), [5.0, 1.0, -2.0, -3.0])
    assert "Cut off or base" not in [*state, *draft]
    sheet = SimpleNamespace(is_formed=True, live=False)
    assert addon.view.legend._grey_words(sheet) == "No sheet on it"


def test_panel_and_legend_tell_the_same_shares(addon, scene, solid, fast, shown):
    solid()
    bpy.ops.buckwright.look()
    facts = addon.scene.results.facts(scene)
    (line,) = (one for one in facts["lines"] if one.startswith("Free"))
    state, _ = shown(scene, [0], tuple(facts["shares"]), [5.0])
    for text in state:
        name, share = text.split("  ")
        assert f"{name} {share}".lower() in line.lower()
