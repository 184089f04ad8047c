"""Takes the view to a place and marks it there: near, and from where lines of sight show most of it."""

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from mathutils import Quaternion, Vector
from mathutils.bvhtree import BVHTree
from numpy.typing import NDArray

from ..scene import forecast_markers, formed_sheet, results, running, visibility
from . import highlight, places
from .best_eye import Eye, Sight, best_eye
from .covers import covers_of
from .places import Place
from .viewports import viewport

__all__ = [
    "facing",
    "look_at",
    "register",
    "show_finding",
    "show_region",
    "show_spot",
    "unregister",
]

_ROOM = 2.2
"""From how many times the size of a place it is looked at, through Blender's usual lens of 50 mm: it then
takes about half of the view. A judgement."""
_USUAL_LENS = 50.0
_CLEAR = 1.5
"""How many times further than the start of clipping the nearest part of a place stays."""
_AFAR = 1e3
"""Without perspective, lines of sight are parallel: the eye is so many times the size of a place away."""
_SMOOTH_STEEP = 0.999
"""Cosine from which a line of sight counts as along the world's Z."""
_SAME_WAY = 1e-4


def show_region(context: bpy.types.Context) -> bool:
    """Take the view to the region that is chosen in the list; whether there was a viewport.

    A region is of the sculpt: a buck or a sheet that covers it is hidden.
    """
    scene = context.scene
    assert scene is not None
    if visibility.buck_is_seen(scene):
        visibility.show_sculpt(scene)
    for sheet in results.objects(scene, "SHEET"):
        sheet.hide_set(True)
    kept = results.of(scene)
    return look_at(context, places.of_region(scene, kept.regions[kept.region_index]))


def show_spot(context: bpy.types.Context) -> bool:
    """Select the marker of the place that is chosen in the list, and take the view there.

    A place is of the sheet: the buck under it is shown, as a sculpt would stick out of the fill.

    Returns
    -------
    Whether there was a viewport.
    """
    assert context.scene is not None
    kept = results.of(context.scene)
    spot = kept.spots[kept.spot_index]
    if context.mode == "OBJECT":
        for one in forecast_markers.objects(context.scene):
            if not one.hide_get():
                one.select_set(one == spot.object)
    if formed_sheet.lies_on_buck(context.scene):
        visibility.show_buck(context.scene)
    return look_at(context, places.of_spot(context.scene, spot), covers=covers_of(context.scene))


def show_finding(context: bpy.types.Context, index: int) -> bool:
    """Take the view to the place of a finding; whether there was a viewport."""
    assert context.scene is not None
    finding = results.of(context.scene).findings[index]
    return look_at(context, places.of_finding(context.scene, finding))


def look_at(context: bpy.types.Context, place: Place, *, covers: Sequence[BVHTree] = ()) -> bool:
    """Turn the view so that a place is seen in its middle, and mark it; whether there was a viewport.

    Parameters
    ----------
    covers : surfaces in the world that hide it too, beside those of the objects that Blender shows
    """
    area = viewport(context)
    space: Any = area.spaces.active if area is not None else None
    if area is None or space is None or space.region_3d is None:
        return False
    region_3d = space.region_3d
    if region_3d.view_perspective == "CAMERA":
        region_3d.view_perspective = "PERSP"
    distance = max(
        _ROOM * place.size * space.lens / _USUAL_LENS, _CLEAR * space.clip_start + place.size / 2.0
    )
    before = region_3d.view_rotation @ Vector((0.0, 0.0, 1.0))
    flat = region_3d.view_perspective == "ORTHO"
    sight = _sight(context, place, covers)
    eye = _eye(place, before, distance=_AFAR * place.size if flat else distance, sight=sight)
    region_3d.view_location = Vector(place.centre)
    region_3d.view_distance = distance
    along = Vector(eye.along)
    if (along - before).length > _SAME_WAY:
        region_3d.view_rotation = facing(along)
    highlight.show(context.scene, place)  # type: ignore[arg-type]
    area.tag_redraw()
    return True


def _eye(place: Place, before: Vector, *, distance: float, sight: Sight) -> Eye:
    mean = place.normals.mean(axis=0)
    length = float(np.linalg.norm(mean))
    outward = mean[None] / length if length > 0.05 else np.empty((0, 3))
    return best_eye(
        place.points,
        place.normals,
        centre=place.centre,
        distance=distance,
        present=np.array(before, np.float64),
        first=outward,
        sight=sight,
    )


def _sight(context: bpy.types.Context, place: Place, covers: Sequence[BVHTree]) -> Sight:
    """Lines of sight among everything that Blender shows, and what is drawn over it.

    A place that is no part of a surface may lie a little off one; what is met there then has to be its front,
    or the eye would be within a solid, where nothing is before it.
    """
    scene: Any = context.scene
    depsgraph = context.evaluated_depsgraph_get()
    beyond = 0.0 if len(place.outline) else 2.0 * place.slack

    def is_free(eye: NDArray[np.float64], point: NDArray[np.float64]) -> bool:
        ray = Vector(point - eye)
        before = ray.length - place.slack
        if before <= 0.0:
            return True
        if any(cover.ray_cast(eye, ray, before)[0] is not None for cover in covers):
            return False
        is_hit, at, normal, *_rest = scene.ray_cast(depsgraph, eye, ray, distance=before + beyond)
        return not is_hit or ((at - Vector(eye)).length > before and normal.dot(ray) < 0.0)

    def seen(eyes: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.bool_]:
        return np.array([is_free(*pair) for pair in zip(eyes, points, strict=True)], bool)

    return seen


def facing(along: Vector) -> Quaternion:
    """Rotation of a view that looks against a direction, the world's Z up."""
    way = along.normalized()
    if abs(way.z) > _SMOOTH_STEEP:
        return Quaternion() if way.z > 0.0 else Quaternion((1.0, 0.0, 0.0), np.pi)
    return way.to_track_quat("Z", "Y")


def _region_chosen(context: bpy.types.Context) -> None:
    """A click on a trapped region takes the view there; not while results are being written."""
    if running.now() is None:
        show_region(context)


def _spot_chosen(context: bpy.types.Context) -> None:
    """A click on a place of the sheet takes the view there; not while results are being written."""
    if running.now() is None:
        show_spot(context)


def register() -> None:
    """Follow what is chosen in the lists."""
    results.region_chosen.listen(_region_chosen)
    results.spot_chosen.listen(_spot_chosen)
    highlight.register()


def unregister() -> None:
    """Follow no longer."""
    highlight.unregister()
    results.spot_chosen.ignore(_spot_chosen)
    results.region_chosen.ignore(_region_chosen)
