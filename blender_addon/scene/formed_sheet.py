"""The forecast sheet in the scene: an object with thickness and contact, its coat, places worth a look.

The coat is the surface of sculpt, fill and foot that the sheet lies on; like the inspection it is hidden and
only carries values.
"""

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from . import forecast_markers, results
from .placement import Placement
from .result_objects import blender_matrix, delete, hide, result_object, write_mesh
from .running import Result

__all__ = ["THICKNESS", "is_thick", "lies_on_buck", "summary", "thicken", "thickness_mm", "thin", "write"]

THICKNESS = "Buckwright Thickness"
"""Name of the modifier and of the group of vertices that give the sheet its thickness."""


def write(scene: bpy.types.Scene, collection: bpy.types.Collection, result: Result, mm: float) -> None:
    """Write the sheet and its places into the scene; a run that brought none takes the old one away."""
    arrays, told = result.arrays, result.report.get("forecast")
    kept = results.of(scene)
    kept.sheet = ""
    if told is None or "sheet_vertices" not in arrays:
        forecast_markers.remove_all(scene)
        for old in (*results.objects(scene, "SHEET"), *results.objects(scene, "COAT")):
            delete(old)
        return
    placement = _placed(scene, result, mm)
    # After making, the buck is what is to be seen, unless the markers were shown before.
    seen = result.command == "forecast" or forecast_markers.are_seen(scene)
    forecast_markers.put(scene, forecast_markers.spots_of(told), placement, seen=seen)
    kept.sheet, kept.sheet_mm = _figures(told), told["settings"]["sheet_mm"]
    was_there = bool(results.objects(scene, "SHEET"))
    coat = _surface(scene, collection, ("COAT", "Sheet on Buck", "coat"), arrays, placement)
    coat.hide_viewport = coat.hide_render = coat.hide_select = True
    one = _surface(scene, collection, ("SHEET", "Formed Sheet", "sheet"), arrays, placement)
    if not was_there:  # it would cover what it is about
        hide(one, hidden=True)
        one.hide_render = True
    if is_thick(one):
        thicken(one, mm)


def _surface(
    scene: bpy.types.Scene,
    collection: bpy.types.Collection,
    names: tuple[str, str, str],
    arrays: dict[str, NDArray[Any]],
    placement: Placement,
) -> bpy.types.Object:
    """An object with values at its vertices; `names` are its role, its name, and that of its arrays."""
    role, name, array = names
    mesh = bpy.data.meshes.new(name)
    write_mesh(mesh, arrays[f"{array}_vertices"] / placement.mm, arrays[f"{array}_faces"])
    _write_values(mesh, arrays[f"{array}_thickness_mm"], arrays[f"{array}_contact"])
    one = result_object(scene, collection, role, name, mesh)
    one.matrix_world = blender_matrix(placement.matrix())
    return one


def summary(told: dict[str, Any]) -> str:
    """One line for the status bar."""
    webs, pockets = len(told["webs"]), len(told["trapped_air"])
    counts = (
        f"{webs} web{'' if webs == 1 else 's'}, air trapped in {pockets} place{'' if pockets == 1 else 's'}"
    )
    return f"{_figures(told)}; {counts}"


def lies_on_buck(scene: bpy.types.Scene) -> bool:
    """Whether the buck stands under the sheet, as it does unless it is older and pulled another way."""
    sheets, bucks = results.objects(scene, "SHEET"), results.objects(scene, "BUCK")
    return any(np.allclose(sheet.matrix_world, buck.matrix_world) for sheet in sheets for buck in bucks)


def is_thick(sheet: bpy.types.Object) -> bool:
    """Whether the sheet shows its thickness."""
    return sheet.modifiers.get(THICKNESS) is not None


def thicken(sheet: bpy.types.Object, mm: float) -> None:
    """Give the sheet its thickness by a modifier that follows a group of vertices, away from the buck."""
    values = thickness_mm(sheet)
    thickest = float(values.max(initial=0.0)) or 1.0
    old = sheet.vertex_groups.get(THICKNESS)
    if old is not None:
        sheet.vertex_groups.remove(old)
    group = sheet.vertex_groups.new(name=THICKNESS)
    # A thousand steps are finer than the forecast, and Blender is asked once for each.
    steps = np.rint(values / thickest * 1000.0).astype(np.int32)
    order = np.argsort(steps, kind="stable")
    found, starts = np.unique(steps[order], return_index=True)
    for step, alike in zip(found, np.split(order, starts[1:]), strict=True):
        group.add(alike.tolist(), float(step) / 1000.0, "REPLACE")
    modifier: Any = sheet.modifiers.get(THICKNESS) or sheet.modifiers.new(THICKNESS, "SOLIDIFY")
    modifier.thickness = thickest / mm
    modifier.offset = 1.0
    modifier.vertex_group = THICKNESS


def thickness_mm(sheet: bpy.types.Object) -> NDArray[np.float32]:
    """(V,) forecast thickness at the vertices of the sheet."""
    mesh = sheet.data
    assert isinstance(mesh, bpy.types.Mesh)
    values = np.empty(len(mesh.vertices), np.float32)
    attribute: Any = mesh.attributes[results.PREFIX + "thickness_mm"]
    attribute.data.foreach_get("value", values)
    return values


def thin(sheet: bpy.types.Object) -> None:
    """Show the sheet as a surface again."""
    modifier = sheet.modifiers.get(THICKNESS)
    if modifier is not None:
        sheet.modifiers.remove(modifier)
    group = sheet.vertex_groups.get(THICKNESS)
    if group is not None:
        sheet.vertex_groups.remove(group)


def _placed(scene: bpy.types.Scene, result: Result, mm: float) -> Placement:
    """Where the buck stands, or would stand: a forecast leaves an older buck where it is."""
    frame = np.asarray(result.arrays["frame"], np.float64)
    kept = Placement.of(scene)
    if results.objects(scene, "BUCK") and np.allclose(kept.frame, frame):
        return kept
    turned = bool(result.arrays.get("turned_over", False))
    return Placement.over(frame, result.sculpt.vertices, mm, turned=turned)


def _write_values(mesh: bpy.types.Mesh, thick: NDArray[np.float32], contact: NDArray[np.float32]) -> None:
    """Named attributes of the vertices."""
    for name, values in (("thickness_mm", thick), ("contact_order", contact)):
        attribute: Any = mesh.attributes.new(results.PREFIX + name, "FLOAT", "POINT")
        attribute.data.foreach_set("value", np.ascontiguousarray(values, np.float32))


def _figures(told: dict[str, Any]) -> str:
    thin = told["thin"]
    return (
        f"{told['weakest']['mm']:.2f} mm at its weakest spot, {thin['share_of_part']:.0%} thinner than "
        f"{thin['mm']:.2f} ±{thin['band_mm']:.2f} mm, {told['mean_mm']:.2f} mm on average"
    )
