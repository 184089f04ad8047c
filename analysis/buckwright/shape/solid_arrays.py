"""Solids as plain arrays and back, including the origin of each face.

A solid rebuilt from arrays has the same faces, but later booleans may merge different ones of those that lie
in one plane. Where a result must not depend on whether it came from the cache, both paths continue from the
arrays.
"""

from dataclasses import dataclass, replace

import manifold3d
import numpy as np
from manifold3d import CrossSection, Manifold, Mesh64
from numpy.typing import NDArray

from buckwright.errors import SolidError
from buckwright.mesh.adjacency import shells
from buckwright.mesh.checking import shell_volumes_mm3
from buckwright.mesh.triangles import Mesh

__all__ = ["Body", "SolidArrays", "arrays_of", "solid_of", "without_crumbs"]


@dataclass(frozen=True, slots=True, eq=False)
class SolidArrays:
    """A solid of manifold3d as arrays.

    Attributes
    ----------
    vertices : (V, 3) float64, mm
    faces : (F, 3) uint32
    run_index : (R + 1,) uint64, where runs of faces of one origin begin, counted in corners
    origin : (R,) uint32, mark of the origin of each run; runs of one origin share it
    transform : (R, 4, 3) float64
    flags : (R,) uint8
    face_id : (F,) uint32, faces that lie in one plane share a number
    tolerance : mm
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.uint32]
    run_index: NDArray[np.uint64]
    origin: NDArray[np.uint32]
    transform: NDArray[np.float64]
    flags: NDArray[np.uint8]
    face_id: NDArray[np.uint32]
    tolerance: float


class Body:
    """A solid rebuilt from its arrays on first use, which takes a second or more."""

    def __init__(self, arrays: SolidArrays) -> None:
        self.arrays = arrays
        self._made: tuple[Manifold, dict[int, int]] | None = None

    @property
    def solid(self) -> Manifold:
        """The solid."""
        return self._opened()[0]

    def section_at(self, z: float) -> CrossSection:
        """Its section at a height.

        Parameters
        ----------
        z : mm

        Returns
        -------
        CrossSection : mm, empty where there is no solid
        """
        return self.solid.slice(z)

    def mark(self, before: int) -> int:
        """The present mark of faces that had another when the arrays were taken.

        Parameters
        ----------
        before : mark at that time (see `solid.new_mark`)

        Returns
        -------
        int : mark of the same faces in `solid`

        Raises
        ------
        KeyError
            No face had that mark.
        SolidError
            The arrays are not a closed solid.
        """
        return self._opened()[1][before]

    def _opened(self) -> tuple[Manifold, dict[int, int]]:
        if self._made is None:
            self._made = solid_of(self.arrays)
        return self._made


def arrays_of(solid: Manifold) -> SolidArrays:
    """Convert a solid to arrays.

    Parameters
    ----------
    solid : any manifold3d solid, mm

    Returns
    -------
    SolidArrays : copies, independent of the solid
    """
    data = solid.to_mesh64()
    runs = len(data.run_original_id)
    return SolidArrays(
        vertices=np.array(data.vert_properties[:, :3], np.float64, order="C"),
        faces=np.array(data.tri_verts, np.uint32, order="C"),
        run_index=np.array(data.run_index, np.uint64),
        origin=np.array(data.run_original_id, np.uint32),
        transform=np.array(data.run_transform, np.float64).reshape(-1, 4, 3)[:runs],
        flags=np.array(data.run_flags, np.uint8),
        face_id=np.array(data.face_id, np.uint32),
        tolerance=float(solid.get_tolerance()),
    )


def without_crumbs(arrays: SolidArrays, *, sliver_mm3: float) -> tuple[SolidArrays, int]:
    """Leave out closed cavities and loose crumbs.

    Parameters
    ----------
    arrays : from `arrays_of`
    sliver_mm3 : shells of no more than this volume are left out; cavities have negative volume

    Returns
    -------
    SolidArrays, int : the same arrays where there is nothing to leave out or nothing else, and how many
        shells were left out

    Notes
    -----
    `solid.single_body` gives the same, but takes the solid apart first, which costs a pass over the whole of
    it for every crumb.
    """
    mesh = Mesh(arrays.vertices, arrays.faces.astype(np.int32))
    label, count = shells(mesh)
    stays = shell_volumes_mm3(mesh, label, count) > sliver_mm3
    if stays.all() or not stays.any():
        return arrays, 0
    kept = stays[label]
    used, renumbered = np.unique(arrays.faces[kept], return_inverse=True)
    begin = np.concatenate([[0], np.cumsum(kept)])[arrays.run_index.astype(np.int64) // 3]
    full = np.diff(begin) > 0
    of_run = {
        name: values[full] if len(values) else values
        for name in ("origin", "transform", "flags")
        for values in (getattr(arrays, name),)
    }
    fewer = replace(
        arrays,
        vertices=arrays.vertices[used],
        faces=renumbered.reshape(-1, 3).astype(np.uint32),
        run_index=(3 * np.append(begin[:-1][full], begin[-1])).astype(np.uint64),
        face_id=arrays.face_id[kept],
        **of_run,
    )
    return fewer, int(count - stays.sum())


def solid_of(arrays: SolidArrays) -> tuple[Manifold, dict[int, int]]:
    """Rebuild a solid from arrays, its origins under marks that are new in this process.

    Parameters
    ----------
    arrays : from `arrays_of`

    Returns
    -------
    Manifold, dict : the solid, and the new mark for every old one

    Raises
    ------
    SolidError
        The arrays are not a closed solid.
    """
    old = np.unique(arrays.origin)
    first = int(Manifold.reserve_ids(len(old)))
    origin = (first + np.searchsorted(old, arrays.origin)).astype(np.uint32)
    solid = Manifold(
        Mesh64(
            vert_properties=arrays.vertices,
            tri_verts=arrays.faces.astype(np.uint64),
            run_index=arrays.run_index,
            run_original_id=origin,
            run_transform=arrays.transform if len(arrays.transform) else None,
            run_flags=arrays.flags if len(arrays.flags) else None,
            face_id=arrays.face_id.astype(np.uint64),
            tolerance=arrays.tolerance,
        )
    )
    if solid.status() != manifold3d.Error.NoError:
        raise SolidError(f"not a closed solid: {solid.status().name}")
    return solid, {int(mark): first + n for n, mark in enumerate(old)}
