"""Solids of manifold3d, with which every boolean is made: marks on their faces, unions, loose pieces."""

import manifold3d
import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.errors import SolidError
from buckwright.mesh.manifolds import from_manifold, handed_over
from buckwright.mesh.triangles import Mesh

__all__ = ["SLIVER_MM3", "as_mesh", "as_solid", "faces_of", "new_mark", "single_body", "united"]

SLIVER_MM3 = 1.0
"""Loose pieces no larger than this are crumbs of the booleans: house rule."""


def new_mark() -> int:
    """A number unique in this process, for `as_solid` and `faces_of`.

    Returns
    -------
    int : >= 0
    """
    return int(Manifold.reserve_ids(1))


def as_solid(mesh: Mesh, *, mark: int | None = None) -> Manifold:
    """Convert a closed mesh to a manifold3d solid; a mark stays on its faces through all later booleans.

    Parameters
    ----------
    mesh : closed, wound outward, mm
    mark : from `new_mark`; without one manifold3d chooses its own

    Returns
    -------
    Manifold : mm

    Raises
    ------
    SolidError
        manifold3d does not accept the mesh (holes, flipped faces, numbers that are not finite).

    Examples
    --------
    >>> import trimesh
    >>> box = trimesh.creation.box((2.0, 3.0, 4.0))
    >>> solid = as_solid(Mesh.from_arrays(box.vertices, box.faces))
    >>> round(solid.volume(), 6), as_mesh(solid).face_count
    (24.0, 12)
    """
    solid = handed_over(mesh, mark=mark)
    if solid.status() != manifold3d.Error.NoError:
        raise SolidError(f"not a closed solid: {solid.status().name}")
    return solid


def as_mesh(solid: Manifold) -> Mesh:
    """Take the triangles out of a manifold3d solid.

    Parameters
    ----------
    solid : any manifold3d solid, mm

    Returns
    -------
    Mesh : closed, wound outward, mm
    """
    return from_manifold(solid)


def faces_of(solid: Manifold, mark: int) -> NDArray[np.bool_]:
    """Find the faces that came from the solid made with a mark.

    Parameters
    ----------
    solid : result of booleans
    mark : as given to `as_solid`

    Returns
    -------
    (F,) bool, one value per face of ``as_mesh(solid)``
    """
    data = solid.to_mesh64()
    begin = np.asarray(data.run_index, np.int64) // 3
    of_run = np.asarray(data.run_original_id) == mark
    return np.repeat(of_run, np.diff(begin))


def united(solids: list[Manifold]) -> Manifold:
    """Union of several solids in one batch; let them overlap, since contact alone is slow and fragile.

    Parameters
    ----------
    solids : any number, mm

    Returns
    -------
    Manifold : already evaluated
    """
    whole = Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    # Evaluated at once: manifold3d defers work and flattens nested unions, and then a large solid takes part
    # in many small steps instead of one (five times the time for some hundred plugs).
    whole.status()
    return whole


def single_body(solid: Manifold, *, sliver_mm3: float) -> tuple[Manifold, int]:
    """Drop closed cavities and loose crumbs, count them, and insist on one piece.

    Parameters
    ----------
    solid : mm
    sliver_mm3 : pieces of no more than this volume are dropped; cavities have negative volume

    Returns
    -------
    Manifold, int : the one piece left, and the number of pieces dropped

    Raises
    ------
    SolidError
        Nothing is left, or more than one real piece.
    """
    parts = solid.decompose()
    kept = [part for part in parts if part.volume() > sliver_mm3]
    if not kept:
        raise SolidError("the solid is empty")
    if len(kept) > 1:
        sizes = ", ".join(f"{part.volume():.0f} mm3" for part in kept[:5])
        raise SolidError(f"the buck falls into {len(kept)} loose pieces ({sizes}); sink the sculpt deeper")
    return kept[0], len(parts) - 1
