"""The page of the preferences, the store, the keys, the menu at the mouse, the help."""

import zipfile
from types import SimpleNamespace

import pytest


class _Layout:
    """Stands for a layout: remembers operators, properties and labels."""

    def __init__(self, seen):
        self.__dict__["seen"] = seen

    def __getattr__(self, name):
        def call(*args, **named):
            self.seen.append((name, *args[-1:], named.get("text", "")))
            return _Layout(self.seen)

        return call

    def __setattr__(self, name, value):
        pass


@pytest.fixture
def page(addon):
    """The preferences of the extension, as they were found."""
    import bpy

    one = bpy.context.preferences.addons[addon.__name__].preferences
    yield one
    for name in ("machine", "sheet", "store"):
        one.property_unset(name)


def _drawn(page):
    import bpy

    seen = []
    holds = {name: getattr(page, name) for name in ("machine", "sheet", "store")}
    type(page).draw(SimpleNamespace(layout=_Layout(seen), **holds), bpy.context)
    return seen


def test_new_files_begin_with_the_presets_that_are_wanted(addon, scene, page):
    import bpy

    machine = addon.scene.presets.preset_names("machine")[0]
    sheet = addon.scene.presets.preset_names("sheet")[-1]
    page.machine, page.sheet = machine, sheet
    addon.scene.presets.load_preset(scene, "machine", machine)
    addon.scene.presets.load_preset(scene, "sheet", sheet)
    wanted = addon.scene.settings.read_tables(scene)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert addon.scene.settings.read_tables(bpy.context.scene) == wanted
    page.machine, page.sheet = "deleted meanwhile", ""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert addon.scene.settings.read_tables(bpy.context.scene) != wanted


def test_a_file_that_is_opened_keeps_its_settings(addon, scene, page, tmp_path):
    import bpy

    path = str(tmp_path / "kept.blend")
    scene.buckwright.sheet.thickness_mm = 1.23
    bpy.ops.wm.save_as_mainfile(filepath=path)
    page.sheet = addon.scene.presets.preset_names("sheet")[0]
    bpy.ops.wm.open_mainfile(filepath=path)
    assert bpy.context.scene.buckwright.sheet.thickness_mm == pytest.approx(1.23)


def test_the_store_is_where_it_is_wanted_and_is_cleared(addon, scene, solid, fast, page, tmp_path):
    import bpy

    page.store = str(tmp_path / "elsewhere")
    solid()
    bpy.ops.buckwright.look()
    kept = list((tmp_path / "elsewhere").glob("*.npz"))
    store = addon.scene.store_folder
    assert kept and store.size_bytes() == sum(path.stat().st_size for path in kept) > 1000
    (tmp_path / "elsewhere" / "mine.txt").write_text("not of the store", encoding="utf-8")
    seen = _drawn(page)
    assert any("MB in" in str(text) and "elsewhere" in str(text) for *_, text in seen)
    assert {"buckwright.clear_store", "buckwright.help"} <= {one[1] for one in seen if one[0] == "operator"}
    assert {"machine", "sheet", "store"} <= {one[1] for one in seen if one[0] == "prop"}
    work = addon.scene.running.Work(bpy.context, "look")
    assert not bpy.ops.buckwright.clear_store.poll(), "a run reads it"
    work.close()
    assert bpy.ops.buckwright.clear_store() == {"FINISHED"}
    assert store.size_bytes() == 0 and [one.name for one in (tmp_path / "elsewhere").iterdir()] == [
        "mine.txt"
    ]


def test_keys_are_suggested_and_off(addon, monkeypatch):
    import bpy

    keymap, added = addon.ui.keymap, []
    item = SimpleNamespace(active=True)
    items = SimpleNamespace(
        new=lambda operator, letter, _value, **how: added.append((operator, letter)) or item,
        remove=lambda one: added.pop(),
    )
    maps = SimpleNamespace(new=lambda **_: SimpleNamespace(keymap_items=items))
    manager = SimpleNamespace(keyconfigs=SimpleNamespace(addon=SimpleNamespace(keymaps=maps)))
    monkeypatch.setattr(keymap, "bpy", SimpleNamespace(context=SimpleNamespace(window_manager=manager)))
    keymap.register()
    assert dict(added) == keymap.KEYS and item.active is False
    assert len(set(keymap.KEYS.values())) == len(keymap.KEYS)
    for name in keymap.KEYS:
        space, _, operator = name.partition(".")
        assert getattr(bpy.ops, space).__getattr__(operator).idname_py() == name
    keymap.unregister()
    assert not added


def test_the_menu_at_the_mouse_has_what_can_be_done_there(addon, scene, solid, fast):
    import bpy

    def offered():
        seen = []
        addon.ui.menus._in_context_menu(SimpleNamespace(layout=_Layout(seen)), bpy.context)
        return [one[1] for one in seen if one[0] == "operator"]

    assert addon.ui.menus._in_context_menu in bpy.types.VIEW3D_MT_object_context_menu._dyn_ui_initialize()
    assert offered() == ["buckwright.look", "buckwright.make"]
    solid()
    bpy.ops.buckwright.make()
    assert offered()[2:] == ["buckwright.add_vent", "buckwright.add_block", "buckwright.show_buck"]


def test_help_comes_with_the_extension(addon, build_zip, monkeypatch):
    with zipfile.ZipFile(build_zip()) as zipped:
        page = zipped.read("help.html").decode()
    assert "<table>" in page and "Make Buck" in page and "Safety" in page
    assert "![" not in page and "](" not in page and "href" not in page, "nothing leads out of the zip"
    assert addon.ui.preferences._HELP.is_file()
