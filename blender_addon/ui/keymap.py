"""Suggested keys of the 3D viewport. All are off: the preferences switch them on."""

import bpy

__all__ = ["KEYS", "register", "unregister"]

KEYS = {
    "buckwright.look": "L",
    "buckwright.make": "K",
    "buckwright.show_buck": "B",
    "buckwright.add_vent": "V",
}
"""Letter of each operator, pressed with Ctrl, Shift and Alt, which Blender leaves free there."""

_added: list[tuple[bpy.types.KeyMap, bpy.types.KeyMapItem]] = []


def register() -> None:
    """Add the keys, switched off; in the background there are none."""
    manager = bpy.context.window_manager
    keys = None if manager is None else manager.keyconfigs.addon
    if keys is None:
        return
    keymap = keys.keymaps.new(name="3D View", space_type="VIEW_3D")
    for operator, letter in KEYS.items():
        item = keymap.keymap_items.new(operator, letter, "PRESS", ctrl=True, shift=True, alt=True)  # type: ignore[arg-type]
        item.active = False
        _added.append((keymap, item))


def unregister() -> None:
    """Take them away."""
    for keymap, item in _added:
        keymap.keymap_items.remove(item)
    _added.clear()
