"""The halves of a sculpt as two sculpts of the user's, and a plane by hand."""

import json
from collections.abc import Sequence

import bpy
import numpy as np
from mathutils import Vector

from ..bridge.library import counted, verb
from ..bridge.units import mm_per_unit
from . import first_size, plane_choices, results, settings
from .fields import field_of
from .result_objects import collection_of, write_mesh
from .running import Result
from .selection import select_only
from .settings import identifier

__all__ = ["plane_by_hand", "select_again", "take_plane", "write"]

_NAMES = ("A", "B")
_SIDES = ("width_mm", "depth_mm", "height_mm")
_APART = 0.15
"""Room between sculpt and halves, as a share of a half's width."""


def plane_by_hand(context: bpy.types.Context) -> bpy.types.Object | None:
    """The empty whose Z axis stands across an own plane: a selected one, else the plane that was moved."""
    own = results.owned()
    for one in context.selected_objects or ():
        if one.type == "EMPTY" and one.instance_collection is None and one.session_uid not in own:
            return one
    return None if context.scene is None else plane_choices.moved_plane(context.scene)


def take_plane(scene: bpy.types.Scene, empty: bpy.types.Object, sculpt: Sequence[bpy.types.Object]) -> None:
    """Make the plane of an empty that of the job."""
    across = (empty.matrix_world.to_3x3() @ Vector((0.0, 0.0, 1.0))).normalized()
    scale = first_size.wanted_scale(scene, sculpt)
    own = settings.of(scene).halves
    own.normal = identifier("vector")
    own.normal_vector = across
    own.plane = 1  # the plane that is given is the only one
    own.auto_offset_mm = False
    own.offset_mm = across.dot(empty.matrix_world.translation) * mm_per_unit(scene) * scale


def write(scene: bpy.types.Scene, result: Result) -> str:
    """Stand both halves beside the sculpt, and set the job for them; what to tell the user.

    They are the user's from the first: nothing that is made later replaces or removes them.
    """
    mm = mm_per_unit(scene)
    name = result.sculpt.names[0]
    collection = bpy.data.collections.new(f"{name} Halves")
    assert scene.collection is not None
    scene.collection.children.link(collection)
    high = result.sculpt.vertices.max(axis=0) / mm
    at, middle = float(high[0]), float(np.mean(result.sculpt.vertices[:, 1])) / mm
    made = []
    for letter in _NAMES:
        places = result.arrays[f"half_{letter}_vertices"] / mm
        mesh = bpy.data.meshes.new(f"{name} Half {letter}")
        write_mesh(mesh, places, result.arrays[f"half_{letter}_faces"])
        one = bpy.data.objects.new(mesh.name, mesh)
        collection.objects.link(one)
        wide = float(np.ptp(places[:, 0]))
        one.location = (at + (0.5 + _APART) * wide, middle, 0.0)
        at += (1.0 + _APART) * wide
        made.append(one)
    _keep(scene, result)
    _take_up(made)
    _set_job(scene)
    locked = sum(part["locked"] for part in result.report["halves"]["parts"])
    still = f"{counted(locked, 'place')} still {verb(locked, 'lock')} before fill"
    released = still if locked else "both release"
    return f"Two halves stand beside the sculpt, {released}: make a buck of each, pulled along +Z"


def select_again(scene: bpy.types.Scene) -> None:
    """Select what was halved last, and nothing else, and ask for the size that was wanted of it."""
    layer, kept = bpy.context.view_layer, results.of(scene)
    found = [entry.object for entry in kept.halved if entry.object is not None]
    found = [one for one in found if layer is not None and one.name in layer.objects]
    if layer is None or not found:
        return
    select_only(layer, found)
    wanted, own = json.loads(kept.halved_size or "{}"), settings.of(scene)
    for key, value in wanted.get("sides", {}).items():
        setattr(own.sculpt, f"auto_{key}", False)
        setattr(own.sculpt, key, value)
    own.size.measure = wanted.get("measure", own.size.measure)


def _keep(scene: bpy.types.Scene, result: Result) -> None:
    """Keep the planes to choose from, and what was halved at which size."""
    kept, own = results.of(scene), settings.of(scene).sculpt
    by_number = {one.session_uid: one for one in scene.objects}
    sculpt = [by_number[number] for number in result.objects if number in by_number]
    scale, mm = first_size.wanted_scale(scene, sculpt), mm_per_unit(scene)
    kept.halved.clear()
    for one in sculpt:
        kept.halved.add().object = one
    sides = {key: getattr(own, key) for key in _SIDES if not getattr(own, f"auto_{key}")}
    kept.halved_size = json.dumps({"sides": sides, "measure": settings.of(scene).size.measure})
    collection_of(scene, result.sculpt.names[0])
    places = result.sculpt.vertices / mm
    box = (places.min(axis=0).tolist(), places.max(axis=0).tolist())
    images = result.arrays.get("plane_images")
    plane_choices.record(scene, result.report, images, scale=scale, box=box)


def _take_up(made: Sequence[bpy.types.Object]) -> None:
    """The first half alone is selected, for its buck."""
    layer = bpy.context.view_layer
    if layer is None or bpy.context.mode != "OBJECT":
        return
    select_only(layer, made[:1])


def _set_job(scene: bpy.types.Scene) -> None:
    """The halves have their size, stand on their seam and are pulled off it; what is the whole's goes."""
    held = settings.of(scene)
    for key in _SIDES:
        setattr(held.sculpt, f"auto_{key}", True)
    held.sculpt.height_factor = 1.0
    held.size.measure = identifier("none")
    held.body_object, held.artwork.file = None, ""
    if held.sculpt.mirror != identifier("none"):
        held.sculpt.mirror = identifier("x")  # that of the whole may run along the pull of a half
    held.pull.direction = identifier("z")
    sink = field_of("base", "sink_mm")
    setattr(held.base, sink.mode, "AMOUNT")
    held.base.sink_mm = 0.0
