"""The page of the preferences: presets of new scenes, the store, suggested keys, help."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Show the page in the place of the viewport; the suggested keys are there and off."""
    bpy.context.preferences.view.show_splash = False
    yield 1.0
    window = bpy.context.window_manager.windows[0]
    keys = parts.module("ui.keymap").KEYS
    keymap = bpy.context.window_manager.keyconfigs.user.keymaps["3D View"]
    items = [item for item in keymap.keymap_items if item.idname in keys]
    drive.expect({item.idname for item in items} == set(keys), f"{len(items)} suggested keys")
    drive.expect(not any(item.active for item in items), "a suggested key is on")
    drive.viewport().type = "PREFERENCES"
    with bpy.context.temp_override(window=window):
        bpy.ops.preferences.addon_show(module=parts.package())
    yield 1.5
    yield from drive.picture("preferences")


drive.run(script)
