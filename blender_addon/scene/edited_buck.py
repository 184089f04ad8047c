"""A buck that the user has changed by hand: told from the one that was made, kept, and taken for export."""

import bpy
import numpy as np
from bpy.app.handlers import persistent

from ..bridge.units import mm_per_unit
from . import handlers, results, snapshot
from .placement import Placement
from .snapshot import Refused, Snapshot

__all__ = ["is_edited", "keep_aside", "note", "register", "take", "unregister"]

_SAME = 1e-5

_meshes_edited: dict[int, bool] = {}
"""By scene: whether the mesh of its buck differs from the one that was made, as far as that is known."""


def note(scene: bpy.types.Scene, mesh: bpy.types.Mesh) -> None:
    """Keep how a buck was made, to tell later whether it was changed."""
    results.of(scene).buck_shape = snapshot.mesh_digest(mesh).hex()
    _meshes_edited.pop(scene.session_uid, None)


def is_edited(scene: bpy.types.Scene) -> bool:
    """Whether the buck in the scene has another shape than the one that was made; moving it is no change."""
    buck = _buck(scene)
    if buck is None:
        return False
    shown = any(modifier.show_viewport for modifier in buck.modifiers)
    scales = np.array(buck.matrix_world.to_scale()) / Placement.of(scene).drawn
    return shown or bool(np.abs(scales - 1.0).max() > _SAME) or _mesh_edited(scene, buck)


def keep_aside(scene: bpy.types.Scene) -> str:
    """Leave a buck whose mesh was edited to the user before a new one is made.

    Returns
    -------
    Its name; empty where nothing was edited.
    """
    buck = _buck(scene)
    if buck is None or not _mesh_edited(scene, buck):
        return ""
    results.disclaim(scene, buck)
    buck.name = f"{buck.name} Edited"
    buck.hide_set(True)  # it shares surfaces with the new one
    return buck.name


def take(context: bpy.types.Context, name: str) -> Snapshot:
    """The buck as it is seen, in mm, as it stands on the platen.

    Parameters
    ----------
    name : what files call it

    Raises
    ------
    Refused
        It is in another mode, was sheared, or has no faces.
    """
    scene = context.scene
    assert scene is not None and context.view_layer is not None
    buck = _buck(scene)
    assert buck is not None
    if buck.mode != "OBJECT":
        raise Refused(f"'{buck.name}' is in another mode: go to Object Mode first")
    hidden = buck.hide_get()
    buck.hide_set(False)
    try:
        context.view_layer.update()
        part = snapshot.triangles(buck.evaluated_get(context.evaluated_depsgraph_get()))
    finally:
        buck.hide_set(hidden)
    if part is None or not len(part[1]):
        raise Refused(f"'{buck.name}' has no faces: make the buck again")
    points, corners = part
    _place, turn, scale = buck.matrix_world.decompose()
    linear = np.array(buck.matrix_world.to_3x3(), np.float64)
    straight = np.array(turn.to_matrix(), np.float64) * np.array(scale, np.float64)
    if np.abs(linear - straight).max() > _SAME * np.abs(linear).max():
        raise Refused(f"'{buck.name}' is sheared by its parent: apply its transform, or clear the parent")
    sides = np.array(scale, np.float64) / Placement.of(scene).drawn
    sides[np.abs(sides - 1.0) < _SAME] = 1.0
    mirrored = float(np.prod(sides)) < 0.0
    return Snapshot(
        points * sides * mm_per_unit(scene),
        np.ascontiguousarray(corners[:, ::-1]) if mirrored else corners,
        (name,),
        (),
    )


def _buck(scene: bpy.types.Scene) -> bpy.types.Object | None:
    return next(iter(results.objects(scene, "BUCK")), None)


def _mesh_edited(scene: bpy.types.Scene, buck: bpy.types.Object) -> bool:
    known = _meshes_edited.get(scene.session_uid)
    if known is not None:
        return known
    mesh = buck.data
    made = results.of(scene).buck_shape
    if not isinstance(mesh, bpy.types.Mesh) or not made or buck.mode != "OBJECT":
        return buck.mode != "OBJECT"  # what is being edited is known when the mode is left
    edited = mesh.shape_keys is not None or snapshot.mesh_digest(mesh).hex() != made
    _meshes_edited[scene.session_uid] = edited
    return edited


@persistent
def _changed(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    if scene.session_uid not in _meshes_edited:
        return
    own = results.owned()
    for update in depsgraph.updates:
        mesh = isinstance(update.id, bpy.types.Mesh)
        if mesh or (update.is_updated_geometry and update.id.original.session_uid in own):
            _meshes_edited.pop(scene.session_uid, None)
            return


@persistent
def _anew(*_args: object) -> None:
    _meshes_edited.clear()


_HANDLERS = (
    ("depsgraph_update_post", _changed),
    ("load_post", _anew),
    ("undo_post", _anew),
    ("redo_post", _anew),
)


def register() -> None:
    """Listen to changes, opening, undo and redo."""
    handlers.listen(_HANDLERS)


def unregister() -> None:
    """Listen no longer."""
    handlers.ignore(_HANDLERS)
    _anew()
