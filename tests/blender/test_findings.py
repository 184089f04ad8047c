"""Findings in the scene: what they mean, where they are, and no word of a terminal or a job file."""

import ast
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import buckwright
from buckwright.stages import all_settings, finding_kinds

# %s: names of settings as a job file has them; keys that are no plain word; tables
_OF_FILES = r"(?<![\w-])--[a-z]|\.(toml|png|json)\b|buckwright \w+|(?<![\w.])(%s|%s)(?!\w)|\[(%s)\]"


def _texts(kind):
    return (kind.title, kind.why, kind.rule, kind.source, *kind.remedies)


def _names():
    """What only a terminal, a job file or a folder of files knows."""
    names = all_settings()
    keys = {key for name in names if "_" in (key := name.partition(".")[2])}
    parts = (names, keys, {name.partition(".")[0] for name in names})
    return re.compile(_OF_FILES % tuple("|".join(map(re.escape, sorted(part))) for part in parts))


@pytest.mark.parametrize("slug", finding_kinds())
def test_an_explanation_has_no_word_of_a_terminal_or_a_job_file(addon, slug):
    pattern = _names()
    for text in _texts(finding_kinds()[slug]):
        said = addon.scene.plain_words.spoken(text)
        assert not pattern.search(said), said


def _told(path):
    """Sentences of a module of the library; what is filled in stands as {}."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    nodes = list(ast.walk(tree))
    parts = {id(part) for node in nodes if isinstance(node, ast.JoinedStr) for part in node.values}
    about = (node.body[0] for node in nodes if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef))
    parts |= {id(first.value) for first in about if isinstance(first, ast.Expr)}
    for node in nodes:
        if isinstance(node, ast.JoinedStr):
            plain = (part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
            yield "".join(plain)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in parts:
            yield node.value


def test_no_sentence_of_the_library_keeps_a_name_that_a_panel_has_not(addon):
    """Errors too: whatever the child says is shown in a panel."""
    pattern, library = _names(), Path(buckwright.__file__).parent
    # The command line speaks for itself, reads job files and keeps the log; pictures and summaries are files.
    left_out = (
        "cli",
        "many/",
        "entry.py",
        "job/files.py",
        "job/job.py",
        "log/book.py",
        "pictures.py",
        "summary.py",
    )
    kept = {}
    for path in library.rglob("*.py"):
        name = path.relative_to(library).as_posix()
        if name.startswith(left_out) or name.endswith(left_out):
            continue
        for text in _told(path):
            said = addon.scene.plain_words.spoken(text)
            if " " in text.strip() and pattern.search(said):
                kept[said] = name
    assert kept == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "Fill undercuts (fill.mode 'full' or 'locked').",
            'Fill undercuts (Fill "All" or "Locked Areas Only").',
        ),
        ("Set base.sink_mm to 'widest'.", 'Set Sink to "Widest Outline".'),
        ("[pull] direction must not be the zero vector", "Direction must not be the zero vector"),
        ("leave out sag_mm and friction", "leave out Sag and friction"),
        ("The repair 'remesh' moved the surface.", "The repair 'remesh' moved the surface."),
        ("Specify the unit (--unit) or a size.", "Specify the unit or a size."),
        ("strains from the table of sheets (buckwright sheets)", "strains from the table of sheets"),
        ("Compare both in setups.png and take one.", "Compare both and take one."),
    ],
)
def test_names_of_a_job_file_become_labels(addon, text, said):
    assert addon.scene.plain_words.spoken(text) == said


class _Layout:
    """Stands for a layout: remembers the texts."""

    def __init__(self, said, operators):
        self.__dict__.update(said=said, operators=operators)

    def label(self, *, text="", icon="NONE"):
        self.said.append(text)

    def prop(self, _data, _name, *, text="", **_how):
        self.said.append(text)

    def operator(self, name, **_how):
        self.operators.append((name, SimpleNamespace()))
        return self.operators[-1][1]

    def __getattr__(self, _name):
        return lambda *_args, **_how: _Layout(self.said, self.operators)

    def __setattr__(self, name, value):
        pass


@pytest.mark.parametrize("slug", finding_kinds())
def test_the_popup_says_all_that_the_library_knows(addon, scene, slug):
    import bpy

    said = []
    operator = bpy.types.BUCKWRIGHT_OT_explain
    operator.draw(SimpleNamespace(layout=_Layout(said, []), slug=slug), bpy.context)
    whole = " ".join(" ".join(said).split())
    for text in _texts(finding_kinds()[slug]):
        assert " ".join(addon.scene.plain_words.spoken(text).split()) in whole


def test_a_finding_can_be_explained_from_a_script_too(addon, scene):
    import bpy

    assert bpy.ops.buckwright.explain(slug="part-locks") == {"FINISHED"}
    with pytest.raises(RuntimeError, match="no finding of the kind 'never-seen'"):
        bpy.ops.buckwright.explain(slug="never-seen")


def test_findings_keep_their_kind_their_setting_and_their_place(addon, scene, solid, fast):
    import bpy

    one = solid(at_mm=(30.0, -10.0, 5.0))
    one.scale.z = -1.0  # wider above than below: everything is trapped
    bpy.context.view_layer.update()
    bpy.ops.buckwright.look()
    kept = scene.buckwright_results
    slugs = {finding.slug for finding in kept.findings}
    assert slugs and slugs <= set(finding_kinds())
    assert {finding.setting for finding in kept.findings} - {""} <= set(all_settings())
    placed = [finding for finding in kept.findings if finding.has_place]
    assert "undercuts" in {finding.slug for finding in placed}
    corners = np.array([one.matrix_world @ vertex.co for vertex in one.data.vertices])
    for finding in placed:
        assert (np.array(finding.place) > corners.min(axis=0) - 1e-3).all()
        assert (np.array(finding.place) < corners.max(axis=0) + 1e-3).all()
    # Each stands in a line of one of both panels; what is said about one is seen when it is unfolded.
    drawn = [_drawn(panel) for panel in ("found", "details")]
    said = [text for texts, _ in drawn for text in texts]
    titles = {finding_kinds()[finding.slug].title for finding in kept.findings}
    assert sorted(text.partition(" (")[0] for text in said if text.partition(" (")[0] in titles) == sorted(
        titles
    )
    gone_to = [n for _, asked in drawn for n in asked.get("show_finding", [])]
    assert gone_to and all(kept.findings[n].has_place for n in gone_to)
    undercuts = next(finding for finding in kept.findings if finding.slug == "undercuts")
    assert undercuts.words not in " ".join(said)
    undercuts.unfolded = True
    drawn = [_drawn(panel) for panel in ("found", "details")]
    assert undercuts.words in " ".join(text for texts, _ in drawn for text in texts)
    assert [slug for _, asked in drawn for slug in asked.get("explain", [])] == ["undercuts"]
    with pytest.raises(RuntimeError, match="Nothing can be done"):
        bpy.ops.buckwright.follow_advice(index=99)


def _drawn(panel="found"):
    """Texts of a panel, and what its buttons are about, by operator."""
    import bpy

    said, operators = [], []
    getattr(bpy.types, f"BUCKWRIGHT_PT_{panel}").draw(
        SimpleNamespace(layout=_Layout(said, operators)), bpy.context
    )
    asked = {}
    for name, button in operators:
        about = [value for key, value in vars(button).items() if key in ("slug", "index", "unit")]
        asked.setdefault(name.partition(".")[2], []).extend(about)
    return said, asked


def test_a_size_that_cannot_be_meant_is_set_right_by_one_press(addon, scene, solid, fast):
    import bpy

    one = solid()  # 40 mm wide
    assert "40 x 40 x 15 mm" in _drawn("look")[0] and "take_unit" not in _drawn("look")[1]
    one.scale = (1000.0, 1000.0, 1000.0)
    bpy.context.view_layer.update()
    said, asked = _drawn("look")
    assert "40 x 40 x 15 m: is the unit right?" in " ".join(said)
    assert asked["take_unit"] == ["mm"] and "want_height" in asked
    bpy.ops.buckwright.want_height(height_mm=120.0)
    assert fast.sculpt.height_mm == 120.0 and not fast.sculpt.auto_height_mm
    assert "take_unit" not in _drawn("look")[1] and "Made 120 mm tall, 15 m in the scene" in _drawn("look")[0]
    fast.sculpt.auto_height_mm = True
    assert bpy.ops.buckwright.take_unit(unit="mm") == {"FINISHED"}
    assert scene.unit_settings.scale_length == pytest.approx(0.001) and tuple(one.scale) == (1000.0,) * 3
    said, asked = _drawn("look")
    assert "40 x 40 x 15 mm" in said and "take_unit" not in asked


def test_advice_is_followed_by_one_press(addon, scene, solid, fast):
    import bpy

    one = solid()
    one.scale = (1000.0, 1000.0, 1000.0)
    bpy.context.view_layer.update()
    kept = scene.buckwright_results
    kept.made = "LOOK"
    for slug, setting in (("doubtful-size", "sculpt.unit"), ("tall-part", "base.sink_mm"), ("web", "")):
        finding = kept.findings.add()
        finding.slug, finding.setting, finding.severity = slug, setting, "WARN"
    _, asked = _drawn()
    assert asked["follow_advice"] == [0, 1] and "finding_setting" not in asked
    assert addon.scene.advice.field_for(kept.findings[0]).key == "height_mm"
    bpy.ops.buckwright.follow_advice(index=0)
    bpy.ops.buckwright.follow_advice(index=1)
    assert scene.unit_settings.scale_length == pytest.approx(0.001) and fast.base.sink_to == "WIDEST"
    assert _drawn()[1].get("follow_advice") is None


def test_notes_of_the_snapshot_are_no_kind_of_finding(addon, scene, solid, fast):
    import bpy

    one = solid()
    modifier = one.modifiers.new("Multires", "MULTIRES")
    bpy.ops.object.multires_subdivide(modifier=modifier.name, mode="SIMPLE")
    modifier.levels = 0
    bpy.ops.buckwright.look()
    first = scene.buckwright_results.findings[0]
    assert (first.slug, first.severity) == ("", "WARN") and "Multires level 0 of 1" in first.words


def test_the_sheet_that_is_named_is_taken_by_one_press(addon, scene, solid, fast):
    import json

    import bpy

    solid()
    kept = scene.buckwright_results
    kept.made, kept.facts = "MAKE", json.dumps({"thicker_mm": 1.5})
    finding = kept.findings.add()
    finding.slug, finding.setting, finding.severity = "weakest-spot", "sheet.thickness_mm", "WARN"
    fast.sheet.thickness_mm = 0.75
    assert _drawn()[1]["follow_advice"] == [0]
    bpy.ops.buckwright.follow_advice(index=0)
    assert fast.sheet.thickness_mm == 1.5
    assert "follow_advice" not in _drawn()[1], "what was tried is taken; a new forecast tells more"
    fast.sheet.thickness_mm = 0.75
    kept.facts = json.dumps({"thicker_mm": None})
    assert "follow_advice" not in _drawn()[1], "no sheet that was tried is thick enough"


@pytest.mark.parametrize("slug", finding_kinds())
def test_a_title_has_room_in_a_line_with_two_buttons(addon, slug):
    """The sidebar is 280 pixels wide as Blender opens it; a label that is longer is cut."""
    import bpy

    paragraphs = addon.ui.paragraphs
    room = 280.0 - paragraphs._MARGINS_PX - 3.0 * paragraphs._ICON_PX
    width = paragraphs.width_px(finding_kinds()[slug].title, bpy.context)
    assert width <= room, f"{width:.0f} of {room:.0f} pixels"


def test_a_buck_with_open_warnings_is_not_called_ready(addon):
    """What Blender says at the end of a run is the verdict of the summary."""
    warned = [{"slug": "weakest-spot", "severity": "warn"}, {"slug": "vents", "severity": "note"}]

    def said(found, **result):
        told = {"command": "make", "releases": True} | result
        return addon.scene.write_results._told(SimpleNamespace(report={"findings": found}, **told))

    assert said(warned) == "The buck can be printed, with 1 open warning: the weakest spot"
    assert said(warned[1:]) == "The buck is ready to print"
    assert said(warned, releases=False).startswith("The buck was made, but the part cannot come off")


def test_findings_of_a_kind_share_a_line(addon, scene):
    kept = scene.buckwright_results
    kept.made = "MAKE"
    for slug, severity in (("web", "WARN"), ("web", "WARN"), ("vents", "NOTE"), ("tall-part", "NOTE")):
        finding = kept.findings.add()
        finding.slug, finding.severity, finding.words = slug, severity, f"{slug} {len(kept.findings)}"
    scene.buckwright.base.sink_to = "AUTO"
    said, asked = _drawn()
    assert said == ["A web (2)", "Taller than wide"] and asked["follow_advice"] == [3], "a note that helps"
    assert _drawn("details")[0] == ["The vents"]
    kept.findings[0].unfolded = True
    assert {"web 1", "web 2"} <= set(_drawn()[0]) and _drawn()[1]["explain"] == ["web", "web"]


def test_the_mildest_kinds_go_to_details_where_a_screen_is_full(addon, scene):
    kept = scene.buckwright_results
    kept.made = "MAKE"
    slugs = list(finding_kinds())[:9]
    for slug in slugs:
        finding = kept.findings.add()
        finding.slug, finding.severity, finding.words = slug, "WARN", slug
    titles = [finding_kinds()[slug].title for slug in slugs]
    assert _drawn()[0] == titles[:6]
    assert _drawn("details")[0] == titles[6:]
    # A row more in the panel of the buck takes one.
    scene.buckwright.blocks_by_hand = True
    assert _drawn()[0] == titles[:5]
