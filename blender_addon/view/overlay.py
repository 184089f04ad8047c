"""Colours the sculpt by what was found, over the viewport: the user's own colours and materials stay.

The values come from the inspection mesh, which lives in the file and follows undo. What is drawn is made from
it in a timer, once for each result, and only then put on the graphics card; drawing only draws.
"""

import traceback
from typing import Any

import bpy
import numpy as np
from bpy.app.handlers import persistent
from mathutils import Matrix
from numpy.typing import NDArray

from ..bridge.library import ColorMap
from ..scene import handlers, results, staleness, wanted_draft
from ..scene.running import Result
from ..scene.write_results import results_changed
from . import formed_overlay, legend, ramps, view_settings
from .hatching import draw_hatching, hatched
from .mesh_faces import Faces, face_values, read_faces
from .overlay_gpu import draw_faces, draw_lines, face_batch, line_batch, recoloured
from .overlay_lines import outlines
from .ramps import TRAPPED
from .shown_result import Shown
from .viewports import redraw

__all__ = ["clear", "paint", "register", "schedule", "show_live", "shown", "unregister"]

_OUTLINE = 1.1
"""Width of the outline of trapped faces, in pixels at an interface scale of 1."""

_showing: list[Shown] = []
"""What is shown: one or none."""
_handles: list[Any] = []
_waiting: set[int] = set()


def shown(scene: bpy.types.Scene) -> Shown | None:
    """What is painted in a scene, or None."""
    return next((one for one in _showing if one.scene == scene.session_uid), None)


def paint(scene: bpy.types.Scene) -> Shown | None:
    """Paint the last result of a scene; without one, nothing is painted. Returns what is shown."""
    inspection = results.inspection(scene)
    if inspection is None or not view_settings.of(scene).show:
        clear()
        return None
    quantity = ramps.QUANTITIES[view_settings.of(scene).quantity]
    key = _key(scene)
    one = shown(scene)
    if one is None or one.live or one.key != key:
        one = _read(scene, inspection, key, quantity)
        _showing[:] = [one]
    _paint_as(one, scene, quantity)
    return one


def _key(scene: bpy.types.Scene) -> tuple[Any, ...] | None:
    """Tells one result of a scene from another; None without a result."""
    inspection = results.inspection(scene)
    if inspection is None:
        return None
    kept = results.of(scene)
    return (
        scene.session_uid,
        inspection.session_uid,
        kept.fingerprint,
        hash(kept.facts),
        hash(kept.found_from.job),
    )


def _read(
    scene: bpy.types.Scene,
    inspection: bpy.types.Object,
    key: tuple[Any, ...] | None,
    quantity: ColorMap,
) -> Shown:
    mesh = inspection.data
    assert isinstance(mesh, bpy.types.Mesh)
    faces = read_faces(mesh)
    values = {}
    for name in {one.array for one in ramps.QUANTITIES.values()} | {"region"}:
        found = face_values(mesh, results.PREFIX + name, faces)
        if found is not None:
            values[name] = found
    anchor, follow = _anchored(scene, inspection.matrix_world)
    return Shown(
        scene=scene.session_uid,
        key=key,
        live=False,
        faces=faces,
        values=values,
        anchor=anchor,
        follow=follow,
        quantity=quantity,
        wanted_deg=wanted_draft.of_results(scene),
        sheet_mm=results.of(scene).sheet_mm,
    )


def _anchored(scene: bpy.types.Scene, place: Matrix) -> tuple[int, Matrix]:
    """The one sculpt that the colours follow when it is moved, and the way into its space."""
    objects = results.sculpts(scene)
    if len(objects) == 1 and abs(objects[0].matrix_world.determinant()) > 1e-30:
        return objects[0].session_uid, objects[0].matrix_world.inverted() @ place
    return 0, place.copy()


def show_live(
    scene: bpy.types.Scene, obj: bpy.types.Object, faces: Faces, draft_deg: NDArray[np.float32]
) -> Shown:
    """Paint drafts that were just measured on an object, in its own space, instead of the last result.

    Undercut faces count as trapped; finding what stands below an overhang takes a look.
    """
    least = wanted_draft.of_settings(scene)
    state = np.where(draft_deg >= np.float32(least), np.int32(0), np.int32(1))
    state[draft_deg < 0.0] = TRAPPED
    state[np.isnan(draft_deg)] = ramps.NOT_JUDGED
    chosen = ramps.QUANTITIES[view_settings.of(scene).quantity]
    quantity = chosen if chosen == ramps.STATE else ramps.DRAFT
    one = Shown(
        scene=scene.session_uid,
        key=_key(scene),
        live=True,
        faces=faces,
        values={"draft_deg": draft_deg, "state": state},
        anchor=obj.session_uid,
        follow=Matrix.Identity(4),
        quantity=quantity,
        wanted_deg=least,
    )
    _showing[:] = [one]
    _paint_as(one, scene, quantity)
    return one


def _paint_as(one: Shown, scene: bpy.types.Scene, quantity: ColorMap) -> None:
    """Make or renew what is on the graphics card."""
    if not len(one.shade):
        one.shade = ramps.form_shade(one.faces.normals)
        told = None if one.live else results.facts(scene).get("shares")
        one.shares = _shares(one) if told is None else tuple(told)
    one.quantity = quantity
    one.skins = formed_overlay.skins_of(scene) if one.is_formed and not one.live else []
    values = one.values.get(quantity.array)
    if values is None:
        values = np.full(len(one.faces.faces), np.nan, np.float32)
    judged = formed_overlay.values_of(one.skins, quantity) if one.skins else values
    one.lowest, one.highest = ramps.limits(quantity, judged, wanted_deg=one.wanted_deg, sheet_mm=one.sheet_mm)
    colours = ramps.colours(
        quantity,
        values,
        lowest=one.lowest,
        highest=one.highest,
        shade=one.shade,
        strength=view_settings.of(scene).strength,
    )
    if not bpy.app.background:
        upload(one, colours)
        formed_overlay.upload(
            one.skins,
            quantity,
            lowest=one.lowest,
            highest=one.highest,
            strength=view_settings.of(scene).strength,
        )
        _hang()
        redraw()
        if not one.marked and not bpy.app.timers.is_registered(_mark_shown):
            # Colours come first; the lines follow with the next picture but one.
            bpy.app.timers.register(_mark_shown, first_interval=0.02)


def _shares(one: Shown) -> tuple[float, float, float]:
    state = one.values.get("state")
    if state is None:
        return 0.0, 0.0, 0.0
    free, tight, trapped = (float(one.faces.areas[state == k].sum(dtype=np.float64)) for k in range(3))
    total = (free + tight + trapped) or 1.0
    return free / total, tight / total, trapped / total


def upload(one: Shown, colours: NDArray[np.uint8]) -> None:
    """Put faces in their colours (F, 4) on the graphics card; those already there get the new colours."""
    if one.batch is None:
        one.batch = face_batch(one.faces.vertices, one.faces.faces, colours)
    else:
        one.batch = recoloured(one.batch, colours)


def mark(one: Shown) -> None:
    """Put hatching and outlines of what is trapped on the graphics card, once."""
    state, vertices, faces = one.values.get("state"), one.faces.vertices, one.faces.faces
    if one.marked or state is None or not len(faces):
        return
    one.marked = True
    trapped = state == TRAPPED
    one.hatching = hatched(vertices, faces[trapped])
    one.outline = line_batch(outlines(vertices, faces, trapped))


def _mark_shown() -> None:
    """Add the lines to colours that are on the screen already; runs from a timer."""
    for one in _showing:
        mark(one)
        redraw()


def clear() -> None:
    """Paint nothing and take the handlers away."""
    _showing.clear()
    while _handles:
        bpy.types.SpaceView3D.draw_handler_remove(_handles.pop(), "WINDOW")
    redraw()


def _hang() -> None:
    if not _handles:
        add = bpy.types.SpaceView3D.draw_handler_add
        _handles.append(add(_draw, (), "WINDOW", "POST_VIEW"))
        _handles.append(add(_draw_legend, (), "WINDOW", "POST_PIXEL"))


def _draw() -> None:
    """Draw over the viewport; a failure is told once and ends the painting."""
    try:
        _draw_over(bpy.context)
    except Exception:
        _showing.clear()
        traceback.print_exc()


def _draw_over(context: bpy.types.Context) -> None:
    one = shown(context.scene) if context.scene else None
    space = context.space_data
    if one is None or one.batch is None or not isinstance(space, bpy.types.SpaceView3D):
        return
    matrix = placed(context, one)
    if matrix is None:
        return
    if one.skins:
        formed_overlay.draw(context, one.skins)
        if not formed_overlay.is_current(context.scene, one.skins):  # type: ignore[arg-type]
            schedule(context.scene)
        return
    if not one.missing:
        draw_faces(one.batch, matrix, context.region_data)
    if view_settings.of(context.scene).mark and not one.is_formed:
        scale = context.preferences.system.ui_scale  # type: ignore[union-attr]
        if one.hatching is not None:
            draw_hatching(one.hatching, matrix, context.region_data, scale=scale)
        if one.outline is not None:
            draw_lines(one.outline, matrix, context.region_data, width=_OUTLINE * scale)


def placed(context: bpy.types.Context, one: Shown) -> Matrix | None:
    """Where the faces stand in the world, or None where they are not to be drawn in this viewport."""
    scene, space = context.scene, context.space_data
    if not view_settings.of(scene).show or not space.overlay.show_overlays:  # type: ignore[union-attr]
        return None
    objects = results.sculpts(scene) if not one.live else [_object(scene, one.anchor)]
    if not one.live and buck_covers(context):
        return one.follow if one.skins else None
    seen = [each for each in objects if each is not None and each.visible_in_viewport_get(space)]  # type: ignore[arg-type]
    if not seen or (one.changed and any(each.mode != "OBJECT" for each in seen)):
        return None
    if any(each.mode != "OBJECT" for each in seen) and not one.live:
        return None
    anchor = next((each for each in seen if each.session_uid == one.anchor), None)
    return one.follow if anchor is None else anchor.matrix_world @ one.follow


def buck_covers(context: bpy.types.Context) -> bool:
    """Whether the buck, whose surface is that of the sculpt, is seen in this viewport instead."""
    bucks = results.objects(context.scene, "BUCK")  # type: ignore[arg-type]
    return any(one.visible_in_viewport_get(context.space_data) for one in bucks)  # type: ignore[arg-type]


def _object(scene: bpy.types.Scene, uid: int) -> bpy.types.Object | None:
    return next((each for each in scene.objects if each.session_uid == uid), None)


def _draw_legend() -> None:
    try:
        context = bpy.context
        one = shown(context.scene) if context.scene else None
        if one is not None and placed(context, one) is not None and view_settings.of(context.scene).legend:
            legend.draw(context, one)
    except Exception:
        _showing.clear()
        traceback.print_exc()


def schedule(scene: bpy.types.Scene | None) -> None:
    """Paint the last result of a scene as soon as Blender is idle."""
    if scene is not None and not bpy.app.background:
        _waiting.add(scene.session_uid)
        if not bpy.app.timers.is_registered(_work):
            bpy.app.timers.register(_work, first_interval=0.0)


def _work() -> None:
    """Paint what was asked for; runs from a timer."""
    asked = set(_waiting)
    _waiting.clear()
    for scene in bpy.data.scenes:
        if scene.session_uid in asked:
            one = shown(scene)
            if one is not None and one.live and one.key == _key(scene) and view_settings.of(scene).show:
                chosen = ramps.QUANTITIES[view_settings.of(scene).quantity]
                _paint_as(one, scene, chosen if chosen.array in one.values else ramps.DRAFT)
            else:
                paint(scene)


@persistent
def _loading(*_args: object) -> None:
    clear()


@persistent
def _again(*_args: object) -> None:
    schedule(bpy.context.scene)


@persistent
def _updated(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """Note that a result came, went or was replaced, or that the shape under live colours changed.

    Only sets marks: painting is left to a timer.
    """
    one, key = shown(scene), _key(scene)
    if key != (None if one is None else one.key) and (one is not None or view_settings.of(scene).show):
        schedule(scene)
    if one is None or not one.live:
        return
    for update in depsgraph.updates:
        is_shape = update.is_updated_geometry and isinstance(update.id, bpy.types.Object)
        if is_shape and update.id.original.session_uid == one.anchor:
            one.changed = True


_HANDLERS = (
    ("load_pre", _loading),
    ("load_post", _again),
    ("undo_post", _again),
    ("redo_post", _again),
    ("depsgraph_update_post", _updated),
)


def _changed(scene: bpy.types.Scene, _result: Result | None) -> None:
    schedule(scene)


def register() -> None:
    """Listen to loading, undo, changes of shape, new results and other wishes."""
    results_changed.listen(_changed)
    staleness.became_known.listen(redraw)
    view_settings.colours_changed.listen(schedule)
    handlers.listen(_HANDLERS)
    if not bpy.app.background:
        bpy.app.timers.register(_first, first_interval=0.1)


def _first() -> None:
    """Show what an open file already holds."""
    schedule(bpy.context.scene)


def unregister() -> None:
    """Take colours, handlers and timers away."""
    for timer in (_work, _first, _mark_shown):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)
    _waiting.clear()
    clear()
    handlers.ignore(_HANDLERS)
    view_settings.colours_changed.ignore(schedule)
    staleness.became_known.ignore(redraw)
    results_changed.ignore(_changed)
