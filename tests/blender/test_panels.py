"""Every panel and menu draws, and every operator stands in one of them."""

_OF_FINDINGS = ("explain", "show_finding", "finding_setting", "follow_advice")
"""They need a finding of some kind to be drawn."""


_SEARCH = {
    "tune": {
        "ranked": [
            {
                "name": "a",
                "title": "Riser 18 mm",
                "changes": {"base.riser_mm": 18.0},
                "words": "Better.",
                "faults": ["it locks"],
            }
        ],
        "own": "as_set",
        "page": "",
    }
}


class _Layout:
    """Stands for a layout: takes every call, and remembers the texts and the operators."""

    def __init__(self, seen):
        self.__dict__["seen"] = seen

    def __getattr__(self, name):
        def call(*args, **named):
            self.seen.append((name, args, named))
            return _Layout(self.seen)

        return call

    def __setattr__(self, name, value):
        pass


def test_panels_and_menus_draw_before_and_after_a_look(addon, scene, solid, fast):
    from types import SimpleNamespace

    import bpy

    solid()
    names = [n for n in dir(bpy.types) if n.startswith(("BUCKWRIGHT_PT_", "BUCKWRIGHT_MT_"))]
    operators = {}
    for after in (False, True):
        if after:
            fast.pull.direction, fast.base.sink_to = "SEARCH", "AUTO"
            fast.pull.directions = 20
            bpy.ops.buckwright.look()
            assert len(scene.buckwright_results.setups) > 1
            scene.buckwright_results.planes.add().number = 1  # as after halving
            addon.scene.tuning.keep(scene, _SEARCH)
            heat = bpy.data.objects.new("Sheet Heat", bpy.data.meshes.new("Sheet Heat"))
            heat["buckwright_heat"] = True  # as once heat is painted
            heat.data.vertices.add(1)
            scene.collection.objects.link(heat)
        for name in names:
            seen = []
            panel = getattr(bpy.types, name)
            if not hasattr(panel, "poll") or panel.poll(bpy.context):
                panel.draw(SimpleNamespace(layout=_Layout(seen)), bpy.context)
            operators |= {args[0]: name for call, args, _ in seen if call == "operator"}
    for name in operators:
        space, _, operator = name.partition(".")
        assert hasattr(getattr(bpy.ops, space), operator), name
    # Search shows only what a menu holds: every operator must be drawn somewhere.
    registered = {f"buckwright.{name}" for name in dir(bpy.ops.buckwright)}
    assert (
        registered
        - set(operators)
        - {f"buckwright.{name}" for name in ("load_preset", "remove_preset")}
        - {f"buckwright.{name}" for name in _OF_FINDINGS}
        == set()
    )


def test_a_setup_is_offered_with_its_picture_and_taken_by_a_click(addon, scene, solid, fast):
    import bpy
    import numpy as np

    solid()
    fast.pull.direction, fast.base.sink_to = "SEARCH", "AUTO"
    fast.pull.directions = 20
    bpy.ops.buckwright.look()
    offered = scene.buckwright_results.setups
    assert [one.number for one in offered] == list(range(1, len(offered) + 1))
    assert offered[0].name == "1: Pull +Z" and offered[0].words == "not sunk, 15 mm tall"
    for one in offered:
        pixels = np.empty(256 * 256 * 4, np.float32)
        one.picture.pixels.foreach_get(pixels)
        seen = pixels.reshape(2, 128, 256, 4)[..., 3].mean(axis=(1, 2))
        assert (seen > 0.05).all() and one.picture.packed_file is not None
    before = len(bpy.data.images)
    assert bpy.ops.buckwright.take_setup(number=2) == {"FINISHED"}
    assert addon.scene.setup_choices.is_taken(scene, 2) and addon.scene.staleness.why(scene)
    assert [one.measured for one in offered] == [one.number == 1 for one in offered]
    # What is shown follows the click, before anything is looked at again.
    assert np.allclose(addon.scene.pull.pull_in(scene), offered[1].direction, atol=1e-6)
    assert addon.scene.pull.is_found(scene) == np.allclose(offered[1].direction, (0.0, 0.0, 1.0))
    second = scene.buckwright_results.setups[1].words
    bpy.ops.buckwright.look()
    assert scene.buckwright_results.setups[1].words == second
    assert addon.scene.results.facts(scene)["pull"] != [0.0, 0.0, 1.0] or second.startswith("sunk")
    assert len(bpy.data.images) == before
    assert scene.buckwright_results.setups[1].measured
    # Kept as it is, it is the only one: no setup of that number is asked for.
    bpy.ops.buckwright.keep_pull()
    assert fast.pull.direction == "VECTOR" and fast.pull.setup == 1
    bpy.ops.buckwright.remove_results()
    assert not [one for one in bpy.data.images if one.name.startswith("Buckwright")]


def test_a_setup_that_is_no_longer_offered_is_told_with_the_way_out(addon, scene, solid, fast):
    import bpy
    import pytest

    solid()
    fast.pull.setup, fast.base.sink_to = 2, "AUTO"  # along a given pull there is one setup only
    with pytest.raises(RuntimeError, match="There is no setup 2"):
        bpy.ops.buckwright.look()
    label = addon.scene.fields.field_of("pull", "setup").setting.label
    words = f"There is no setup 2: there is only 1 setup to choose from; set {label} back to 1"
    assert addon.scene.running.trouble() == words
    fast.pull.setup = 1
    assert bpy.ops.buckwright.look() == {"FINISHED"} and addon.scene.running.trouble() == ""


def test_vents_and_outline_are_offered_with_a_buck_only_and_a_stale_one_says_what_to_do(
    addon, scene, solid, fast
):
    from types import SimpleNamespace

    import bpy

    def drawn(panel):
        seen = []
        getattr(bpy.types, panel).draw(SimpleNamespace(layout=_Layout(seen)), bpy.context)
        told = {args[1] for call, args, _ in seen if call == "prop"}
        return told, [named["text"] for call, _, named in seen if call == "label" and "text" in named]

    solid()
    bpy.ops.buckwright.look()
    assert not drawn("BUCKWRIGHT_PT_buck")[0] & {"vents_by_hand", "outline_by_hand"}
    fast.draft.auto_wanted_deg = False
    assert "Wanted Draft has changed: look again" in " ".join(drawn("BUCKWRIGHT_PT_found")[1])
    bpy.ops.buckwright.make()
    assert drawn("BUCKWRIGHT_PT_buck")[0] >= {"vents_by_hand", "outline_by_hand"}
    fast.draft.auto_wanted_deg = True
    assert "Wanted Draft has changed: make again" in " ".join(drawn("BUCKWRIGHT_PT_found")[1])
