"""Objects that hold results: they are made once, and later runs only give them new data."""

import contextlib
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from . import results

__all__ = [
    "blender_matrix",
    "collection_of",
    "delete",
    "drop",
    "hide",
    "part_of",
    "result_object",
    "tidy",
    "write_mesh",
]

_PARTS = {
    "vents": "Vents",
    "blocks": "Take-Up Blocks",
    "lines": "Lines",
    "places": "Forecast",
    "pieces": "Pieces",
    "workshop": "Workshop",
}
"""Collections within that of the results: their pointer in the scene, and what their name begins with."""


def collection_of(scene: bpy.types.Scene, name: str) -> bpy.types.Collection:
    """The collection of a scene's results; a new one is named after the sculpt."""
    kept = results.of(scene)
    if kept.collection is None:
        kept.collection = bpy.data.collections.new(f"Buckwright {name}")
    collection: bpy.types.Collection = kept.collection
    if collection not in scene.collection.children_recursive:
        scene.collection.children.link(collection)
    return collection


def part_of(scene: bpy.types.Scene, part: str) -> bpy.types.Collection:
    """A collection within that of the results, which is there already.

    Parameters
    ----------
    part : 'vents', 'blocks', 'lines', 'places' (of the forecast), 'pieces' or 'workshop'
    """
    kept = results.of(scene)
    if getattr(kept, part) is None:
        named = kept.collection.name.removeprefix("Buckwright ")
        setattr(kept, part, bpy.data.collections.new(f"{_PARTS[part]} of {named}"))
    found: bpy.types.Collection = getattr(kept, part)
    if found not in kept.collection.children_recursive:
        kept.collection.children.link(found)
    return found


def tidy(scene: bpy.types.Scene) -> None:
    """Take the collections of results away that hold nothing, those within first."""
    kept = results.of(scene)
    for name in (*_PARTS, "collection"):
        found = getattr(kept, name)
        if found is not None and not found.all_objects and not found.children:
            bpy.data.collections.remove(found)


def hide(one: bpy.types.Object, *, hidden: bool) -> None:
    """Hide or show an object by its eye; one in a collection that is left out of the view layer has none."""
    with contextlib.suppress(RuntimeError):
        one.hide_set(hidden)


def result_object(
    scene: bpy.types.Scene, collection: bpy.types.Collection, role: str, name: str, data: Any
) -> bpy.types.Object:
    """The result object of a role; one that is there gets the new data and keeps the rest."""
    found = results.objects(scene, role)
    if found:
        one, old = found[0], found[0].data
        if isinstance(old, bpy.types.Mesh) and isinstance(data, bpy.types.Mesh):
            for material in old.materials:
                data.materials.append(material)
        one.data = data
        drop(old)
        return one
    one = bpy.data.objects.new(name, data)
    results.claim(scene, one, role)
    collection.objects.link(one)
    return one


def drop(data: Any) -> None:
    """Remove data that nothing uses any more."""
    if data is None or data.users:
        return
    if isinstance(data, bpy.types.Mesh):
        bpy.data.meshes.remove(data)
    elif isinstance(data, bpy.types.Curve):
        bpy.data.curves.remove(data)


def delete(one: bpy.types.Object) -> None:
    """Remove an object and its data."""
    data = one.data
    bpy.data.objects.remove(one)
    drop(data)


def write_mesh(
    mesh: bpy.types.Mesh, vertices: NDArray[np.floating[Any]], faces: NDArray[np.integer[Any]]
) -> None:
    """Replace the geometry of a mesh: `vertices` (V, 3), `faces` (F, 3)."""
    mesh.clear_geometry()
    mesh.vertices.add(len(vertices))
    mesh.loops.add(3 * len(faces))
    mesh.polygons.add(len(faces))
    if len(vertices):
        position: Any = mesh.attributes["position"]
        position.data.foreach_set("vector", np.ascontiguousarray(vertices, np.float32).reshape(-1))
    if len(faces):
        # A property of each loop would take a hundred times as long as the attribute behind it.
        of_corner: Any = mesh.attributes[".corner_vert"]
        of_corner.data.foreach_set("value", np.ascontiguousarray(faces, np.int32).reshape(-1))
        mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * len(faces), 3, dtype=np.int32))
    mesh.update(calc_edges=True)


def blender_matrix(matrix: NDArray[np.float64]) -> Any:
    """A (4, 4) array as Blender's own matrix."""
    return Matrix(matrix.tolist())
