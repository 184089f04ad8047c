"""Heat that is painted: a flat grid over the frame, whose weights tell how warm the sheet gets there.

The grid is the user's own and no result: it stays when a buck is made anew, and the heat map of the settings
counts again once it is deleted.
"""

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.library import MOST_HEAT, heat_rows
from . import results
from .placement import Placement
from .result_objects import blender_matrix, write_mesh

__all__ = ["GROUP", "is_painted", "lay", "painted", "remove", "words"]

GROUP = "Heat"
"""The group of vertices: weight 0 is the least heat that can be formed with, 0.5 the usual, 1 the most."""

_MARK = "buckwright_heat"
_SIDE = 13  # points along a side of the grid
_OVER_MM = 2.0  # so far above all that the sheet holds
_FINEST = 3  # digits of a heat, a fifth of a degree


def is_painted(one: bpy.types.Object) -> bool:
    """Whether an object is a grid of heat."""
    return one.type == "MESH" and bool(one.get(_MARK))


def painted(scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The grid of a scene, None without one or once all of it is deleted; of copies the first by name."""
    held = [one for one in scene.objects if is_painted(one) and len(one.data.vertices)]  # type: ignore[union-attr]
    found = sorted(held, key=lambda one: one.name)
    return found[0] if found else None


def words(scene: bpy.types.Scene) -> str | None:
    """What is painted as a heat map of the settings, None without a grid."""
    one = painted(scene)
    if one is None:
        return None
    heats = _heats(one)
    if (heats == 1.0).all():
        return ""
    return "; ".join(" ".join(f"{heat:g}" for heat in row) for row in heats[::-1])


def lay(scene: bpy.types.Scene, heat_map: str) -> bpy.types.Object:
    """Lay a grid over the frame of the last forecast.

    Parameters
    ----------
    heat_map : what it begins with, as in the settings

    Returns
    -------
    Object : linked to the scene
    """
    placement = Placement.of(scene)
    frame, top = _frame_mm(scene, placement)
    plan = _grid(frame)
    places = np.column_stack([plan, np.full(len(plan), top + _OVER_MM)])
    mesh = bpy.data.meshes.new("Sheet Heat")
    write_mesh(mesh, places / placement.mm, _triangles())
    one = bpy.data.objects.new("Sheet Heat", mesh)
    one.matrix_world = blender_matrix(placement.matrix())
    one[_MARK] = True
    one.hide_render = True
    scene.collection.objects.link(one)
    group = one.vertex_groups.new(name=GROUP)
    for number, heat in enumerate(_on_grid(np.array(heat_rows(heat_map))).reshape(-1)):
        group.add([number], _weight(float(heat)), "REPLACE")
    return one


def remove(scene: bpy.types.Scene) -> None:
    """Take all grids away."""
    for one in [one for one in scene.objects if is_painted(one)]:
        bpy.data.objects.remove(one)


def _heats(one: bpy.types.Object) -> NDArray[np.float64]:
    """Relative heat over the grid, (rows, columns), the first row in front.

    Of a grid that was edited, the vertex nearest to each place counts.
    """
    data: Any = one.data
    group = one.vertex_groups.get(GROUP)
    number = -1 if group is None else group.index
    weights = np.array(
        [sum(held.weight for held in vertex.groups if held.group == number) for vertex in data.vertices]
    )
    places = np.empty((len(data.vertices), 3), np.float32)
    data.vertices.foreach_get("co", places.reshape(-1))
    nearest = [np.linalg.norm(places[:, :2] - place, axis=1).argmin() for place in _grid(places)]
    low, high = MOST_HEAT
    heats = low + (high - low) * np.clip(weights[nearest], 0.0, 1.0)
    return np.round(heats, _FINEST).reshape(_SIDE, _SIDE)


def _grid(around: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    """Points row by row over the rectangle that holds points, (N, 2)."""
    low, high = around.min(axis=0), around.max(axis=0)
    x, y = (np.linspace(low[axis], high[axis], _SIDE) for axis in (0, 1))
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def _weight(heat: float) -> float:
    low, high = MOST_HEAT
    return (heat - low) / (high - low)


def _frame_mm(scene: bpy.types.Scene, placement: Placement) -> tuple[NDArray[np.float64], float]:
    """Lowest and highest corner of the formed sheet in the buck's frame, (2, 2), and its top; mm."""
    (sheet,) = results.objects(scene, "SHEET")
    data: Any = sheet.data
    places = np.empty((len(data.vertices), 3), np.float32)
    data.vertices.foreach_get("co", places.reshape(-1))
    matrix = np.array(sheet.matrix_world)
    buck = placement.to_buck(places @ matrix[:3, :3].T + matrix[:3, 3])
    return np.array([buck[:, :2].min(axis=0), buck[:, :2].max(axis=0)]), float(buck[:, 2].max())


def _triangles() -> NDArray[np.int32]:
    number = np.arange(_SIDE**2).reshape(_SIDE, _SIDE)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    found = [np.stack(corners, axis=-1).reshape(-1, 3) for corners in ((a, b, c), (a, c, d))]
    return np.concatenate(found).astype(np.int32)


def _on_grid(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """A map at the points of the grid, linear between its values."""
    share = np.linspace(0.0, 1.0, _SIDE)
    for _ in range(2):
        at = np.linspace(0.0, 1.0, len(rows))
        rows = np.array([np.interp(share, at, column) for column in rows.T])
    return rows
