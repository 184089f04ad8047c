"""Writes what came back into the scene: objects in a collection of their own, facts for the panels.

The sculpt itself is never touched. Values per face go on a hidden copy of it, the inspection: attributes on
the user's own mesh would change it, could not be undone apart from sculpting, and cannot be held by a mesh
whose faces come from modifiers, Multires or instances. Objects that are there already keep their modifiers
and materials; only their data is new.
"""

import json
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.library import COMMANDS, outcome_of
from ..bridge.units import mm_per_unit
from . import (
    block_markers,
    edited_buck,
    forecast_markers,
    formed_sheet,
    hand_marks,
    hole_markers,
    outline_curve,
    pieces,
    plane_choices,
    record,
    results,
    settings,
    setup_choices,
    snapshot,
    vent_markers,
    visibility,
    workshop,
)
from .events import Event
from .job_scale import job_scale, scaled
from .placement import Placement
from .result_objects import (
    blender_matrix,
    collection_of,
    delete,
    part_of,
    result_object,
    tidy,
    write_mesh,
)
from .running import Result

__all__ = [
    "forget_blocks",
    "forget_outline",
    "forget_planes",
    "forget_vents",
    "place_by_hand",
    "remove",
    "results_changed",
    "write",
]

results_changed: Event[[bpy.types.Scene, Result | None]] = Event()
"""A result was written into a scene; or, with None, all results of a scene were removed."""

_FORGOTTEN = (
    "made", "releases", "collection", "vents", "blocks", "lines", "places", "fingerprint", "buck_shape",
    "frame", "turned", "home", "facts", "sheet", "sheet_mm",
)  # fmt: skip
_OWN_SIZE_MM = 200.0
"""Size of split planes that are drawn before there is a buck."""
_FOOT_RING = -1
"""Number of the pocket of vents along the foot; one placed by hand outside of all pockets has -2."""


def write(scene: bpy.types.Scene, result: Result) -> str:
    """Write a result into the scene; returns what to tell the user."""
    visibility.bring_back(scene)  # the sculpt of the last result may be another
    mm = mm_per_unit(scene)
    arrays = result.arrays
    frame = np.asarray(arrays["frame"], np.float64)
    collection = collection_of(scene, result.sculpt.names[0])
    _inspect(scene, collection, result, mm)
    made = "buck_vertices" in arrays
    placement, kept_as = _placed(result, frame, mm), ""
    if made:
        _keep_frame(scene, placement)
        kept_as = edited_buck.keep_aside(scene)
        _build(scene, collection, arrays, placement, _title(result))
        _follow_marks(scene)
    elif results.of(scene).made != "MAKE":
        _keep_frame(scene, placement)
    if made or result.command == "forecast":
        formed_sheet.write(scene, collection, result, mm)
    record.write(scene, result, frame, made=made)
    covered = result.command == "forecast" and formed_sheet.lies_on_buck(scene)
    shows_buck = made or (covered and visibility.buck_is_seen(scene))
    (visibility.show_buck if shows_buck else visibility.show_sculpt)(scene)
    if made:
        _take_up_buck(scene)
    results.let_go(scene)
    tidy(scene)
    results_changed.tell(scene, result)
    return f"{_told(result)}. The edited buck is kept as '{kept_as}'" if kept_as else _told(result)


def _take_up_buck(scene: bpy.types.Scene) -> None:
    """Make the buck the active object; what else is selected stays so."""
    layer = bpy.context.view_layer
    if layer is None or bpy.context.mode != "OBJECT":
        return
    for buck in results.objects(scene, "BUCK"):
        if buck.name in layer.objects:
            buck.select_set(True)
            layer.objects.active = buck


def remove(scene: bpy.types.Scene) -> None:
    """Take away everything that a look, make or forecast has put into the scene."""
    kept = results.of(scene)
    visibility.show_sculpt(scene)
    forecast_markers.remove_all(scene)
    setup_choices.forget(scene)
    plane_choices.forget(scene)
    for one in [entry.object for entry in kept.own if entry.object is not None]:
        delete(one)
    tidy(scene)
    for name in _FORGOTTEN:
        kept.property_unset(name)
    record.forget_origins(scene)
    for name in ("own", "sculpts", "halved", "findings", "regions"):
        getattr(kept, name).clear()
    _follow_marks(scene)
    results_changed.tell(scene, None)


def forget_vents(scene: bpy.types.Scene) -> None:
    """Take the vent markers away, and let the next buck choose its own."""
    vent_markers.remove_all(scene)
    vent_markers.remove_copies(scene)
    results.let_go(scene)
    settings.of(scene).vents_by_hand = False


def forget_blocks(scene: bpy.types.Scene) -> None:
    """Take the markers of take-up blocks away, and let the next buck seek its own."""
    block_markers.forget(scene)
    settings.of(scene).blocks_by_hand = False


def forget_outline(scene: bpy.types.Scene) -> None:
    """Take the outline away, and let the next buck make its own."""
    for old in results.objects(scene, "OUTLINE"):
        delete(old)
    settings.of(scene).outline_by_hand = False


def forget_planes(scene: bpy.types.Scene) -> None:
    """Take the split planes away, and let the next buck be split by rule."""
    for old in results.objects(scene, "CUT"):
        delete(old)
    settings.of(scene).planes_by_hand = False


def place_by_hand(scene: bpy.types.Scene, tables: dict[str, dict[str, Any]]) -> None:
    """Markers, curve and planes for what an opened job names of them; older ones go."""
    tables = scaled(tables, 1.0 / job_scale(scene, snapshot.chosen(bpy.context)))
    hole_markers.put_all(scene, tables.get("edge", {}))
    at_mm, outline = tables.get("vents", {}).get("at_mm"), tables.get("base", {}).get("outline_mm")
    planes = tables.get("printer", {}).get("planes_mm")
    tops = tables.get("take_up", {}).get("at_mm")
    if at_mm is None and outline is None and planes is None and tops is None:
        return
    name = Path(str(tables.get("sculpt", {}).get("file", ""))).stem or "Job"
    remove(scene)
    collection_of(scene, name)
    placement = Placement.of(scene)
    if at_mm is not None:
        rows = np.zeros((len(at_mm), 6))
        rows[:, :3] = np.array(at_mm, np.float64).reshape(-1, 3)
        _mark_vents(scene, rows, placement)
        _put_facts(scene, vents=len(at_mm))
        settings.of(scene).vents_by_hand = True
    if tops is not None:
        block_markers.place(scene, np.array(tops, np.float64).reshape(-1, 4), placement)
        _put_facts(scene, blocks=len(tops))
        settings.of(scene).blocks_by_hand = True
    if outline is not None:
        corners = np.array([[*corner, 0.0][:3] for corner in outline], np.float64)
        _draw_outline(scene, [corners], placement, exact=outline)
        settings.of(scene).outline_by_hand = True
    if planes is not None:
        pieces.write_planes(scene, np.array(planes, np.float64).reshape(-1, 4), placement, _OWN_SIZE_MM)
        settings.of(scene).planes_by_hand = True


def _put_facts(scene: bpy.types.Scene, **changed: Any) -> None:
    results.of(scene).facts = json.dumps(results.facts(scene) | changed)


def _title(result: Result) -> str:
    return str(tomllib.loads(result.job).get("job", {}).get("name") or "Buck")


def _follow_marks(scene: bpy.types.Scene) -> None:
    """The switches for vents, blocks, outline and planes by hand follow what is in the scene again."""
    for name in ("vents", "blocks", "outline", "planes"):
        settings.of(scene).property_unset(f"{name}_by_hand")


def _inspect(
    scene: bpy.types.Scene, collection: bpy.types.Collection, result: Result, mm: float
) -> bpy.types.Object:
    """The copy of the sculpt with the values of its faces as named attributes."""
    mesh = bpy.data.meshes.new("Inspection")
    write_mesh(mesh, result.sculpt.vertices / mm, result.sculpt.faces)
    for name in results.FACE_VALUES:
        values = result.arrays.get(name)
        if values is None or len(values) != len(result.sculpt.faces):
            continue
        kind, wanted = ("FLOAT", np.float32) if values.dtype.kind == "f" else ("INT", np.int32)
        attribute: Any = mesh.attributes.new(results.PREFIX + name, kind, "FACE")
        attribute.data.foreach_set("value", np.ascontiguousarray(values, wanted))
    one = result_object(scene, collection, "INSPECTION", "Inspection", mesh)
    one.hide_viewport = True
    one.hide_render = True
    one.hide_select = True
    return one


def _build(
    scene: bpy.types.Scene,
    collection: bpy.types.Collection,
    arrays: dict[str, NDArray[Any]],
    placement: Placement,
    title: str,
) -> None:
    """The buck, its vents, trim line and outline."""
    mesh = bpy.data.meshes.new(title)
    write_mesh(mesh, arrays["buck_vertices"] / placement.mm, arrays["buck_faces"])
    buck = result_object(scene, collection, "BUCK", title, mesh)
    buck.matrix_world = blender_matrix(placement.matrix())
    edited_buck.note(scene, mesh)
    pieces.write(scene, arrays, placement)
    workshop.write(scene, arrays, placement)
    _mark_vents(scene, arrays["vents"], placement)
    block_markers.write(scene, arrays, placement)
    trims = [arrays[name] for name in _numbered(arrays, "trim_")]
    if trims:
        _trim_line(scene, trims, placement)
    outlines = [np.column_stack([arrays[n], np.zeros(len(arrays[n]))]) for n in _numbered(arrays, "outline_")]
    if outlines:
        _draw_outline(scene, outlines, placement)


def _draw_outline(
    scene: bpy.types.Scene,
    outlines: Sequence[NDArray[np.float64]],
    placement: Placement,
    *,
    exact: Sequence[Sequence[float]] | None = None,
) -> None:
    """The outline of the base as a curve that remembers how it was drawn, and what the job says of it."""
    data = bpy.data.curves.new("Base Outline", "CURVE")
    for line in outlines:
        outline_curve.add_spline(data, line, mm=placement.mm)
    curve = _curve(scene, "OUTLINE", data, placement)
    longest = outlines[outline_curve.longest(outlines)]
    told = placement.buck_to_sculpt(longest).tolist() if exact is None else exact
    curve["buckwright_outline_mm"] = json.dumps([list(corner) for corner in told])
    curve["buckwright_put"] = hand_marks.drawn(curve)


def _numbered(arrays: dict[str, Any], prefix: str) -> list[str]:
    return sorted((n for n in arrays if n.startswith(prefix)), key=lambda n: int(n.removeprefix(prefix)))


def _mark_vents(
    scene: bpy.types.Scene,
    vents: NDArray[np.float64],
    placement: Placement,
) -> None:
    """Empties that stand on the buck where it is drilled; those of the last run go."""
    vent_markers.remove_all(scene)
    vent_markers.remove_copies(scene)
    world = placement.to_world(vents[:, :3])
    sculpt = placement.buck_to_sculpt(vents[:, :3])
    for number, (row, place, exact) in enumerate(zip(vents, world, sculpt, strict=True), start=1):
        foot = bool(row[5] == _FOOT_RING)
        name = f"{'Foot Vent' if foot else 'Vent'} {number:03d}"
        marker = vent_markers.add(scene, placement, name, at=place.tolist(), foot=foot)
        marker["buckwright_at_mm"] = [float(v) for v in exact]
        hand_marks.put(marker)
        marker["buckwright_hole_mm"] = float(row[3])


def _trim_line(scene: bpy.types.Scene, lines: Sequence[NDArray[np.float64]], placement: Placement) -> None:
    """Closed lines as a curve of straight pieces."""
    data = bpy.data.curves.new("Trim Line", "CURVE")
    for line in lines:
        spline = data.splines.new("POLY")
        spline.points.add(len(line) - 1)
        places = np.column_stack([line / placement.mm, np.ones(len(line))])
        spline.points.foreach_set("co", np.ascontiguousarray(places, np.float32).reshape(-1))
        spline.use_cyclic_u = True
    _curve(scene, "TRIM", data, placement)


def _curve(
    scene: bpy.types.Scene, role: str, data: bpy.types.Curve, placement: Placement
) -> bpy.types.Object:
    """The result object of a line on the buck."""
    data.dimensions = "3D"
    one = result_object(scene, part_of(scene, "lines"), role, data.name, data)
    one.matrix_world = blender_matrix(placement.matrix())
    one.show_in_front = True
    return one


def _placed(result: Result, frame: NDArray[np.float64], mm: float) -> Placement:
    turned = bool(result.arrays.get("turned_over", False))
    return Placement.over(frame, result.sculpt.vertices, mm, turned=turned)


def _keep_frame(scene: bpy.types.Scene, placement: Placement) -> None:
    kept = results.of(scene)
    kept.frame = json.dumps(placement.frame.tolist())
    kept.home = json.dumps(placement.home.tolist())
    kept.turned = placement.turned


def _told(result: Result) -> str:
    """What the command says of its outcome, and what belongs to it."""
    found = [(one["slug"], one["severity"]) for one in result.report["findings"]]
    command = COMMANDS[result.command]
    outcome = outcome_of(command, released=result.releases, findings=found).rstrip(".")
    words = outcome[:1].upper() + outcome[1:]
    if (told := result.report.get("forecast")) is not None and result.command == "forecast":
        return f"{words}: {formed_sheet.summary(told)}"
    if result.releases:
        return words
    count = len(result.report.get("undercuts") or ())
    return f"{words}: {count} trapped region{'' if count == 1 else 's'}, see the findings"
