"""Between pixels of a viewport and places in the world: what the mouse points at, where a place is seen."""

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Vector
from numpy.typing import NDArray

from ..scene import results

__all__ = ["buck_under", "pixels_of", "ray_at", "seen_under", "struck"]

_FLAT = 1e-30
"""An object whose matrix has no greater determinant has no inside to point into."""


def ray_at(region: Any, region_3d: Any, at: tuple[float, float]) -> tuple[Vector, Vector]:
    """The line of sight through a pixel of a viewport: where it begins, and its direction."""
    return (
        view3d_utils.region_2d_to_origin_3d(region, region_3d, at),
        view3d_utils.region_2d_to_vector_3d(region, region_3d, at),
    )


def struck(obj: bpy.types.Object, depsgraph: Any, origin: Vector, ray: Vector) -> Vector | None:
    """Where a ray first meets an object, in the world, whether it is shown or not."""
    if abs(obj.matrix_world.determinant()) < _FLAT:
        return None
    into = obj.matrix_world.inverted()
    found, place, _normal, _face = obj.evaluated_get(depsgraph).ray_cast(into @ origin, into.to_3x3() @ ray)
    return obj.matrix_world @ place if found else None


def buck_under(
    context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
) -> Vector | None:
    """Place on the buck at a pixel of a viewport, in the world, whatever lies before it; None beside it.

    Parameters
    ----------
    region : of the viewport
    at : pixels from the lower left of the region
    """
    assert context.scene is not None
    origin, ray = ray_at(region, region.data, at)
    bucks = [buck for buck in results.objects(context.scene, "BUCK") if buck.visible_get()]
    if not bucks:
        return None
    depsgraph = context.evaluated_depsgraph_get()
    places = (struck(buck, depsgraph, origin, ray) for buck in bucks)
    return next((place for place in places if place is not None), None)


def seen_under(
    context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
) -> Vector | None:
    """Place on whatever is seen at a pixel of a viewport, in the world; None beside everything.

    Parameters
    ----------
    region : of the viewport
    at : pixels from the lower left of the region
    """
    assert context.scene is not None
    origin, ray = ray_at(region, region.data, at)
    found, place, *_ = context.scene.ray_cast(context.evaluated_depsgraph_get(), origin, ray)
    return place if found else None


def pixels_of(context: bpy.types.Context, places: Sequence[Any] | NDArray[np.float64]) -> NDArray[np.float64]:
    """Pixels (M, 2) of those places that are before the eye."""
    where = view3d_utils.location_3d_to_region_2d
    found = [where(context.region, context.region_data, Vector(place)) for place in places]  # type: ignore[arg-type]
    return np.array([tuple(one) for one in found if one is not None], np.float64).reshape(-1, 2)
