"""Where on the buck the mouse points."""

import bpy
from bpy_extras import view3d_utils
from mathutils import Vector

from ..scene import results

__all__ = ["buck_under"]


def buck_under(
    context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
) -> Vector | None:
    """Place on the buck at a pixel of a viewport, in the world, whatever lies before it; None beside it.

    Parameters
    ----------
    region : of the viewport
    at : pixels from the lower left of the region
    """
    scene = context.scene
    assert scene is not None
    origin = view3d_utils.region_2d_to_origin_3d(region, region.data, at)
    ray = view3d_utils.region_2d_to_vector_3d(region, region.data, at)
    for buck in results.objects(scene, "BUCK"):
        if not buck.visible_get() or not buck.matrix_world.determinant():
            continue
        into = buck.matrix_world.inverted()
        seen = buck.evaluated_get(context.evaluated_depsgraph_get())
        found, place, _normal, _face = seen.ray_cast(into @ origin, into.to_3x3() @ ray)
        if found:
            return buck.matrix_world @ place
    return None
