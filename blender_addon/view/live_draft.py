"""Draft alone, measured anew whenever Sculpt Mode is left, when the pull is turned, or when asked for.

Overhangs are not looked for: that takes the library, and a look. Nothing is worked out in a handler: a
message tells that a mode has changed or the pull was turned, a timer then measures.
"""

import bpy
import numpy as np
from bpy.app.handlers import persistent
from numpy.typing import NDArray

from ..scene import results, settings, snapshot
from ..scene.pull import is_found, pull_in
from . import overlay, view_settings
from .mesh_faces import Faces, read_faces
from .shown_result import Shown

__all__ = ["drafts", "follow_pull", "measure", "measure_first", "register", "unregister", "why_not"]

_owner = object()
_modes: dict[int, str] = {}


def drafts(normals: NDArray[np.float32], pull: NDArray[np.floating]) -> NDArray[np.float32]:
    """Draft of faces in degrees, -90..90.

    Parameters
    ----------
    normals : (F, 3) unit, 0 for faces without an area
    pull : (3,) direction of the pull in the same space

    Notes
    -----
    The arcsine of the height of unit normals: within 0.02 degrees near 90 in single precision, and far better
    where drafts are decided; 0 for normals of 0.
    """
    along = np.asarray(pull, np.float64)
    height = normals @ (along / np.linalg.norm(along)).astype(np.float32)
    np.clip(height, -1.0, 1.0, out=height)
    return np.degrees(np.arcsin(height, out=height), out=height)


def why_not(obj: bpy.types.Object | None) -> str:
    """Why the draft of an object cannot be measured now, in words with the way out; empty where it can."""
    if obj is None or obj.type != "MESH":
        return "Select a mesh object"
    if not obj.visible_get():
        return f"'{obj.name}' is hidden: show it in the viewport first"
    if obj.mode == "EDIT":
        return "Leave Edit Mode first"
    if obj.mode == "SCULPT" and obj.use_dynamic_topology_sculpting:
        return "Dynamic topology keeps the shape to itself: leave Sculpt Mode first"
    if obj.mode == "SCULPT" and any(one.type == "MULTIRES" for one in obj.modifiers):
        return "Multiresolution keeps the shape to itself: leave Sculpt Mode first"
    return ""


def measure(context: bpy.types.Context, obj: bpy.types.Object) -> Shown:
    """Measure the draft of an object as its modifiers make it, and paint it."""
    scene = context.scene
    assert scene is not None
    context.view_layer.update()  # type: ignore[union-attr]
    evaluated = obj.evaluated_get(context.evaluated_depsgraph_get())
    mesh = evaluated.data
    assert isinstance(mesh, bpy.types.Mesh)
    faces = read_faces(mesh)
    return overlay.show_live(scene, obj, faces, _angles(faces, obj, pull_in(scene)))


def _angles(faces: Faces, obj: bpy.types.Object, pull: NDArray[np.float64]) -> NDArray[np.float32]:
    """Drafts of an object's faces along a pull in the world; nan where a face has no area."""
    angles = drafts(*_turned(faces, obj, pull))
    angles[faces.areas == 0.0] = np.nan
    return angles


def measure_first(context: bpy.types.Context) -> None:
    """Paint the draft of a sculpt that has no colours yet, for the time until a run has found the rest."""
    assert context.scene is not None
    if not view_settings.of(context.scene).show or overlay.shown(context.scene) is not None:
        return
    found = [one for one in snapshot.chosen(context) if not why_not(one)]
    if found:
        measure(context, context.object if context.object in found else found[0])


def _turned(
    faces: Faces, obj: bpy.types.Object, pull: NDArray[np.float64]
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Normals and pull in one space.

    Normals go to the world by the inverse transpose of the object's matrix, mirrored ones too. Where that
    keeps angles (turned, evenly scaled), the pull goes back instead: three numbers instead of a million.
    """
    matrix = np.array(obj.matrix_world.to_3x3(), np.float64)
    scale = np.cbrt(abs(np.linalg.det(matrix)))
    if scale <= 0.0:
        return np.zeros_like(faces.normals), pull
    if np.allclose(matrix.T @ matrix, scale**2 * np.eye(3), atol=1e-6 * scale**2):
        return faces.normals, matrix.T @ pull
    normals = faces.normals @ (np.linalg.inv(matrix) * scale).astype(np.float32)
    lengths = np.sqrt(np.einsum("fk,fk->f", normals, normals))
    return normals / np.maximum(lengths, np.float32(1e-30))[:, None], pull


def follow_pull(context: bpy.types.Context) -> None:
    """Colour what is coloured by its draft along the pull as it is set now.

    The colours of a look give way to draft alone where the pull is no longer that of the look, and come back
    with it.
    """
    scene = context.scene
    assert scene is not None
    one = overlay.shown(scene)
    if one is None or not np.any(pull_in(scene)):
        return
    if is_found(scene):
        if one.live and results.inspection(scene) is not None:
            overlay.paint(scene)
        return
    objects = [each for each in scene.objects if each.session_uid == one.anchor] or results.sculpts(scene)
    if len(objects) != 1 or why_not(objects[0]):
        return
    if one.live and not one.changed and len(one.faces.faces):
        overlay.show_live(scene, objects[0], one.faces, _angles(one.faces, objects[0], pull_in(scene)))
    else:
        measure(context, objects[0])


def _pull_turned(_scene: bpy.types.Scene) -> None:
    """The pull was turned: colour by it when Blender is idle."""
    if not bpy.app.timers.is_registered(_after_turn):
        bpy.app.timers.register(_after_turn, first_interval=0.0)


def _after_turn() -> None:
    """Colour by the pull as it is now; runs from a timer."""
    window = bpy.context.window or next(iter(bpy.context.window_manager.windows), None)
    if window is not None:
        with bpy.context.temp_override(window=window):
            follow_pull(bpy.context)


def _mode_changed() -> None:
    """A mode has changed: look at it when Blender is idle."""
    if not bpy.app.timers.is_registered(_after_mode):
        bpy.app.timers.register(_after_mode, first_interval=0.01)


def _after_mode() -> None:
    """Measure the objects that have just left Sculpt Mode; runs from a timer."""
    context = bpy.context
    window = context.window or next(iter(context.window_manager.windows), None)
    if window is None:
        return
    with context.temp_override(window=window):
        scene, obj = context.scene, context.view_layer.objects.active  # type: ignore[union-attr]
        if scene is None or obj is None:
            return
        before = _modes.get(obj.session_uid)
        _modes[obj.session_uid] = obj.mode
        left = before == "SCULPT" and obj.mode == "OBJECT"
        if left and view_settings.of(scene).live and not why_not(obj):
            measure(context, obj)


def _listen() -> None:
    bpy.msgbus.clear_by_owner(_owner)
    bpy.msgbus.subscribe_rna(key=(bpy.types.Object, "mode"), owner=_owner, args=(), notify=_mode_changed)


@persistent
def _opened(*_args: object) -> None:
    """Opening a file ends all subscriptions of Blender's message bus."""
    _modes.clear()
    _listen()


def register() -> None:
    """Listen to changes of mode and of the pull."""
    settings.pull_turned.listen(_pull_turned)
    bpy.app.handlers.load_post.append(_opened)
    _listen()


def unregister() -> None:
    """Listen no longer."""
    settings.pull_turned.ignore(_pull_turned)
    bpy.msgbus.clear_by_owner(_owner)
    for timer in (_after_mode, _after_turn):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)
    _modes.clear()
    bpy.app.handlers.load_post.remove(_opened)
