"""Paints what the forecast says where it matters: on the buck under the sheet, and on the sheet itself.

The sheet is drawn see-through, in colours alone, while its object is hidden; or it is shown as an object, and
its colours are drawn over that.
"""

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ..bridge.library import ColorMap
from ..scene import formed_sheet, results
from . import ramps, view_settings
from .mesh_faces import read_faces
from .overlay_gpu import FaceBatch, draw_faces, smooth_batch

__all__ = ["Skin", "draw", "is_current", "skins_of", "upload", "values_of"]

_THROUGH = 0.45
"""Cover of a sheet that is seen through, a judgement."""


@dataclass(slots=True, eq=False, kw_only=True)
class Skin:
    """A surface with values at its vertices.

    Attributes
    ----------
    role : COAT or SHEET
    look : tells how its object was shown when it was read
    vertices, faces, normals : (V, 3), (F, 3), (V, 3) in the object's space
    values : (V,) arrays by their names
    """

    role: str
    look: tuple[bool, ...]
    vertices: NDArray[np.float32]
    faces: NDArray[np.int32]
    normals: NDArray[np.float32]
    values: dict[str, NDArray[np.float32]]
    batch: FaceBatch | None = None


def skins_of(scene: bpy.types.Scene) -> list[Skin]:
    """The coat, then the sheet, as far as a forecast has left them."""
    return [_read(role, one) for role in ("COAT", "SHEET") for one in results.objects(scene, role)[:1]]


def _read(role: str, one: bpy.types.Object) -> Skin:
    look = _look(role, one)
    mesh: Any = one.data
    if role == "SHEET" and all(look):  # as thick as it is drawn
        mesh = one.evaluated_get(bpy.context.evaluated_depsgraph_get()).data
    faces = read_faces(mesh)
    normals = np.empty_like(faces.vertices)
    mesh.vertex_normals.foreach_get("vector", normals.reshape(-1))
    values = {}
    for name in ramps.FORMED:
        attribute = mesh.attributes.get(results.PREFIX + name)
        if attribute is not None and attribute.domain == "POINT":
            values[name] = np.empty(len(faces.vertices), np.float32)
            attribute.data.foreach_get("value", values[name])
    return Skin(
        role=role, look=look, vertices=faces.vertices, faces=faces.faces, normals=normals, values=values
    )


def _look(role: str, one: bpy.types.Object) -> tuple[bool, ...]:
    return (one.visible_get(), formed_sheet.is_thick(one)) if role == "SHEET" else ()


def is_current(scene: bpy.types.Scene, skins: list[Skin]) -> bool:
    """Whether the sheet is still shown as it was when it was read."""
    sheets = results.objects(scene, "SHEET")
    return all(skin.look == _look(skin.role, one) for skin in skins if skin.role == "SHEET" for one in sheets)


def values_of(skins: list[Skin], quantity: ColorMap) -> NDArray[np.float32]:
    """What is over the buck, whose range the ramp is to hold; without that, the values of the sheet."""
    found = [skin.values[quantity.array] for skin in skins if quantity.array in skin.values]
    return found[0] if found else np.empty(0, np.float32)


def upload(skins: list[Skin], quantity: ColorMap, *, lowest: float, highest: float, strength: float) -> None:
    """Put the surfaces in their colours on the graphics card."""
    for skin in skins:
        values = skin.values.get(quantity.array)
        through = skin.role == "SHEET" and not skin.look[0]
        skin.batch = None
        if values is not None and len(skin.faces):
            cover = strength * _THROUGH if through else strength
            shade = ramps.form_shade(skin.normals)
            painted = ramps.colours(
                quantity, values, lowest=lowest, highest=highest, shade=shade, strength=cover
            )
            skin.batch = smooth_batch(skin.vertices, skin.faces, painted)


def draw(context: bpy.types.Context, skins: list[Skin]) -> None:
    """Draw the coat, then the sheet over it."""
    scene = context.scene
    assert scene is not None
    for skin in skins:
        one = next(iter(results.objects(scene, skin.role)), None)
        if one is None or skin.batch is None:
            continue
        solid = skin.role == "COAT" or one.visible_in_viewport_get(context.space_data)  # type: ignore[arg-type]
        if solid or view_settings.of(scene).sheet_through:
            matrix: Matrix = one.matrix_world
            draw_faces(skin.batch, matrix, context.region_data, hides=solid)
