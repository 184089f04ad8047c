"""Findings in the scene: what they mean, where they are, and no word of a terminal or a job file."""

import re
from types import SimpleNamespace

import numpy as np
import pytest

from buckwright.stages import all_settings, finding_kinds

_OF_FILES = re.compile(
    r"\\b\\w+_(mm|deg|share|kpa|s)\\b|--\\w|\\.toml|\\[\\w+\\] |buckwright \\w+|\\b(%s)\\b"
)


def _texts(kind):
    return (kind.title, kind.why, kind.rule, kind.source, *kind.remedies)


def _names():
    """Names of settings as a job file has them, those that are no plain words."""
    return "|".join(re.escape(name) for name in all_settings())


@pytest.mark.parametrize("slug", finding_kinds())
def test_an_explanation_has_no_word_of_a_terminal_or_a_job_file(addon, slug):
    pattern = re.compile(_OF_FILES.pattern % _names())
    for text in _texts(finding_kinds()[slug]):
        said = addon.scene.plain_words.spoken(text)
        assert not pattern.search(said), said


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
    said, operators = [], []
    bpy.types.BUCKWRIGHT_PT_found.draw(SimpleNamespace(layout=_Layout(said, operators)), bpy.context)
    asked = [button.slug for name, button in operators if name == "buckwright.explain"]
    assert asked == [finding.slug for finding in kept.findings]


def test_notes_of_the_snapshot_are_no_kind_of_finding(addon, scene, solid, fast):
    import bpy

    one = solid()
    modifier = one.modifiers.new("Multires", "MULTIRES")
    bpy.ops.object.multires_subdivide(modifier=modifier.name, mode="SIMPLE")
    modifier.levels = 0
    bpy.ops.buckwright.look()
    first = scene.buckwright_results.findings[0]
    assert (first.slug, first.severity) == ("", "WARN") and "Multires level 0 of 1" in first.words
