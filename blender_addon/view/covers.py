"""What is drawn over the scene and hides places in it, of which Blender's own lines of sight know nothing."""

import bpy
import numpy as np
from mathutils import Matrix
from mathutils.bvhtree import BVHTree

from ..scene import results
from . import view_settings
from .mesh_faces import read_faces

__all__ = ["covers_of"]


def covers_of(scene: bpy.types.Scene) -> list[BVHTree]:
    """The coat and the see-through sheet in the world, as far as their colours are shown."""
    view = view_settings.of(scene)
    if not (view.show and view_settings.is_formed(scene)):
        return []
    drawn = [*results.objects(scene, "COAT")[:1]]
    if view.sheet_through:
        drawn += [one for one in results.objects(scene, "SHEET")[:1] if not one.visible_get()]
    return [_tree(one.data, one.matrix_world) for one in drawn]  # type: ignore[arg-type]


def _tree(mesh: bpy.types.Mesh, moved: Matrix) -> BVHTree:
    faces, matrix = read_faces(mesh), np.array(moved, np.float64)
    world = faces.vertices @ matrix[:3, :3].T + matrix[:3, 3]
    return BVHTree.FromPolygons(world.tolist(), faces.faces.tolist(), all_triangles=True)
