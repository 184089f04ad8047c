"""Solids of manifold3d, in which every boolean is made: marks on their faces, unions, loose pieces."""

import manifold3d
import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.errors import SolidError
from buckwright.mesh.manifolds import from_manifold, handed_over
from buckwright.mesh.triangles import Mesh

__all__ = ["as_mesh", "as_solid", "faces_of", "new_mark", "single_body", "united"]


def new_mark() -> int:
    """A number that is unique in this process, for `as_solid` and `faces_of`."""
    return int(Manifold.reserve_ids(1))


def as_solid(mesh: Mesh, *, mark: int | None = None) -> Manifold:
    """Hand a closed mesh to manifold3d; a mark stays on its faces through all later booleans.

    Raises
    ------
    SolidError
        manifold3d does not accept the mesh (holes, flipped faces, numbers that are not finite).
    """
    solid = handed_over(mesh, mark=mark)
    if solid.status() != manifold3d.Error.NoError:
        raise SolidError(f"not a closed solid: {solid.status().name}")
    return solid


def as_mesh(solid: Manifold) -> Mesh:
    """Take the triangles out of a manifold3d solid."""
    return from_manifold(solid)


def faces_of(solid: Manifold, mark: int) -> NDArray[np.bool_]:
    """Tell which faces of `as_mesh(solid)` came from the solid that was made with this mark."""
    data = solid.to_mesh64()
    begin = np.asarray(data.run_index, np.int64) // 3
    of_run = np.asarray(data.run_original_id) == mark
    return np.repeat(of_run, np.diff(begin))


def united(solids: list[Manifold]) -> Manifold:
    """Union of several solids in one batch; overlap them, contact alone is slow and fragile."""
    whole = Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    # Asked at once: manifold3d puts work off and flattens nested unions, and then a large solid takes part in
    # many small steps instead of one (five times the time for some hundred plugs).
    whole.status()
    return whole


def single_body(solid: Manifold, *, sliver_mm3: float) -> tuple[Manifold, int]:
    """Drop closed cavities and loose crumbs under `sliver_mm3`, count them, and insist on one piece.

    Raises
    ------
    SolidError
        Nothing is left, or several real pieces are.
    """
    parts = solid.decompose()
    kept = [part for part in parts if part.volume() > sliver_mm3]
    if not kept:
        raise SolidError("the solid is empty")
    if len(kept) > 1:
        sizes = ", ".join(f"{part.volume():.0f} mm3" for part in kept[:5])
        raise SolidError(f"the buck falls into {len(kept)} loose pieces ({sizes}); sink the sculpt deeper")
    return kept[0], len(parts) - 1
