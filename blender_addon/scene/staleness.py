"""Marks results as stale when the sculpt or a setting changes. Nothing is worked out here: flags are set.

The flags live outside the scene, because handlers may not write to it; they are saved with the file.
"""

import bpy
from bpy.app.handlers import persistent

__all__ = ["forget", "is_touched", "register", "touch", "unregister", "watch"]

_touched: set[int] = set()
_watched: dict[int, frozenset[int]] = {}


def touch(scene: bpy.types.Scene) -> None:
    """The results of a scene no longer belong to what is in it."""
    _touched.add(scene.session_uid)


def forget(scene: bpy.types.Scene) -> None:
    """The results of a scene are fresh."""
    _touched.discard(scene.session_uid)


def is_touched(scene: bpy.types.Scene) -> bool:
    """Whether something has changed since the last look or make."""
    return scene.session_uid in _touched


def watch(scene: bpy.types.Scene, objects: list[bpy.types.Object]) -> None:
    """Which objects the results of a scene belong to."""
    _watched[scene.session_uid] = frozenset(one.session_uid for one in objects)


@persistent
def _changed(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    watched = _watched.get(scene.session_uid)
    if not watched or scene.session_uid in _touched:
        return
    for update in depsgraph.updates:
        if not (update.is_updated_geometry or update.is_updated_transform):
            continue
        if isinstance(update.id, bpy.types.Object) and update.id.original.session_uid in watched:
            touch(scene)
            return


@persistent
def _opened(*_args: object) -> None:
    _touched.clear()
    _watched.clear()
    for scene in bpy.data.scenes:
        if scene.get("buckwright_stale"):
            touch(scene)


@persistent
def _saving(*_args: object) -> None:
    for scene in bpy.data.scenes:
        if is_touched(scene):
            scene["buckwright_stale"] = True
        elif scene.get("buckwright_stale") is not None:
            del scene["buckwright_stale"]


def register() -> None:
    """Listen to changes, opening and saving."""
    bpy.app.handlers.depsgraph_update_post.append(_changed)
    bpy.app.handlers.load_post.append(_opened)
    bpy.app.handlers.save_pre.append(_saving)


def unregister() -> None:
    """Listen no longer."""
    bpy.app.handlers.save_pre.remove(_saving)
    bpy.app.handlers.load_post.remove(_opened)
    bpy.app.handlers.depsgraph_update_post.remove(_changed)
    _touched.clear()
    _watched.clear()
