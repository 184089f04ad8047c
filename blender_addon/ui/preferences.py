"""The preferences of the extension: presets of new scenes, the store, keys, help."""

import contextlib
from pathlib import Path
from typing import Any

import bpy
import rna_keymap_ui
from bpy.app.handlers import persistent
from bpy.props import StringProperty

from ..scene import handlers, presets, results, running, store_folder
from ..scene.files import EXTENSION
from ..scene.snapshot import Refused
from .keymap import KEYS

__all__ = ["register", "unregister"]

_KINDS = ("machine", "sheet")
_HELP = Path(__file__).parents[1] / "help.html"


def _preset_of(kind: str) -> Any:
    """A property that holds the name of a preset: its place in a list would change with every new one."""

    def names(_self: Any, _context: bpy.types.Context, _typed: str) -> list[str]:
        return presets.preset_names(kind)

    words = f"{kind.title()} preset that new scenes begin with; none if empty"
    return StringProperty(name=f"{kind.title()} of New Scenes", description=words, search=names)


class BUCKWRIGHT_preferences(bpy.types.AddonPreferences):
    """What holds for all files"""

    bl_idname = EXTENSION

    machine: _preset_of("machine")  # type: ignore[valid-type]
    sheet: _preset_of("sheet")  # type: ignore[valid-type]
    store: StringProperty(  # type: ignore[valid-type]
        name="Store",
        description="Folder for results that make the next runs quick; the extension's own if empty",
        subtype="DIR_PATH",
    )

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the page."""
        layout = self.layout
        layout.use_property_split = True
        column = layout.column()
        for kind in _KINDS:
            column.prop(self, kind)
        column = layout.column()
        column.prop(self, "store")
        row = column.row()
        row.label(text=f"{store_folder.size_bytes() / 1e6:,.0f} MB in {store_folder.place() or 'no folder'}")
        row.operator("buckwright.clear_store", icon="TRASH")
        layout.operator("buckwright.help", icon="HELP")
        _draw_keys(layout, context)


def _draw_keys(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """Suggested keys, each with its switch."""
    keys = context.window_manager.keyconfigs.user if context.window_manager is not None else None
    keymap = None if keys is None else keys.keymaps.get("3D View")
    if keymap is None:
        return
    layout.label(text="Suggested Keys")
    for item in keymap.keymap_items:
        if item.idname in KEYS:
            rna_keymap_ui.draw_kmi([], keys, keymap, item, layout, 0)


class BUCKWRIGHT_OT_clear_store(bpy.types.Operator):
    """Delete what is kept of earlier runs to make the next ones quick; nothing of a scene is lost"""

    bl_idname = "buckwright.clear_store"
    bl_label = "Clear Store"

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        """Not while a run reads it."""
        if running.now() is not None:
            cls.poll_message_set("A run is in progress: wait for it, or press Esc")
        return running.now() is None

    def execute(self, _context: bpy.types.Context) -> set[str]:
        """Delete them."""
        self.report({"INFO"}, f"{store_folder.clear() / 1e6:,.0f} MB deleted")
        return {"FINISHED"}


class BUCKWRIGHT_OT_help(bpy.types.Operator):
    """Open the help that comes with the extension, in the web browser"""

    bl_idname = "buckwright.help"
    bl_label = "Help"

    def execute(self, _context: bpy.types.Context) -> set[str]:
        """Open the page."""
        bpy.ops.wm.url_open(url=_HELP.as_uri())
        return {"FINISHED"}


@persistent
def _begun(*_args: object) -> None:
    """A new file was begun: its scenes take the presets that are wanted."""
    preferences = bpy.context.preferences
    addon = None if preferences is None else preferences.addons.get(EXTENSION)
    if bpy.data.filepath or addon is None:
        return
    for scene in bpy.data.scenes:
        for kind in _KINDS if results.of(scene).made == "NONE" else ():
            name = getattr(addon.preferences, kind, "")
            if name:
                with contextlib.suppress(Refused):  # it was deleted meanwhile
                    presets.load_preset(scene, kind, name)


_CLASSES = (BUCKWRIGHT_preferences, BUCKWRIGHT_OT_clear_store, BUCKWRIGHT_OT_help)
_HANDLERS = (("load_post", _begun),)


def register() -> None:
    """Add the page; new files are followed from now on."""
    for one in _CLASSES:
        bpy.utils.register_class(one)
    handlers.listen(_HANDLERS)


def unregister() -> None:
    """Take it away."""
    handlers.ignore(_HANDLERS)
    for one in reversed(_CLASSES):
        bpy.utils.unregister_class(one)
