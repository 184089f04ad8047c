"""Halve long edges of chosen faces, so that a question can be put to parts of a large face.

Every face on an edge takes part, so that parts still meet at whole edges; the surface does not move.
"""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh

__all__ = ["cut_faces", "faces_over", "halve_edges"]


def faces_over(mesh: Mesh, over_mm: float) -> NDArray[np.bool_]:
    """Faces with a side longer than given.

    Parameters
    ----------
    mesh : any triangles
    over_mm : length, >= 0

    Returns
    -------
    (F,) bool
    """
    over = np.empty(mesh.face_count, np.bool_)
    _mark_over(mesh.vertices, mesh.faces, over_mm * over_mm, over)
    return over


@kernel
def _mark_over(vertices, faces, squared, over):  # type: ignore[no-untyped-def]
    """Compare the squared length of the sides of every face."""
    for f in range(faces.shape[0]):
        longest = 0.0
        for k in range(3):
            p, q = faces[f, k], faces[f, (k + 1) % 3]
            x = vertices[q, 0] - vertices[p, 0]
            y = vertices[q, 1] - vertices[p, 1]
            z = vertices[q, 2] - vertices[p, 2]
            longest = max(longest, x * x + y * y + z * z)
        over[f] = longest > squared


def halve_edges(
    mesh: Mesh, chosen: NDArray[np.bool_], *, over_mm: float
) -> tuple[Mesh, NDArray[np.int64], NDArray[np.bool_]]:
    """Cut the chosen faces at the middles of their long sides, and their neighbours with them.

    Parameters
    ----------
    mesh : any triangles
    chosen : (F,) bool, faces to cut
    over_mm : sides longer than this are halved, >= 0

    Returns
    -------
    mesh : faces that were not cut, then the parts of those that were; the old vertices come first
    origin : (F',) int64, the face that each one was or was part of
    new : (F',) bool, the parts

    Examples
    --------
    Two halves of a square; the diagonal and the four sides are halved:

    >>> import numpy as np
    >>> square = Mesh.from_arrays([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], [(0, 1, 2), (0, 2, 3)])
    >>> finer, origin, _ = halve_edges(square, np.ones(2, bool), over_mm=0.9)
    >>> finer.face_count, np.bincount(origin).tolist()
    (8, [4, 4])
    """
    faces = mesh.faces
    sides = np.stack([faces[chosen], np.roll(faces[chosen], -1, axis=1)], axis=-1)
    long = _side_lengths(mesh.vertices[faces[chosen]]) > over_mm
    keys = np.unique(_keys(sides[long], mesh.vertex_count))
    ends = np.column_stack([keys // max(mesh.vertex_count, 1), keys % max(mesh.vertex_count, 1)])
    cut, middle = _cut_sides(faces, ends, keys, mesh.vertex_count)
    parts, of_cut = _parts(mesh.vertices, faces[cut], middle, mesh.vertex_count, ends)
    whole = np.ones(mesh.face_count, np.bool_)
    whole[cut] = False
    vertices = np.concatenate([mesh.vertices, mesh.vertices[ends].mean(axis=1)])
    kept = np.flatnonzero(whole)
    finer = Mesh(vertices, np.concatenate([faces[kept], parts]))
    return finer, np.concatenate([kept, cut[of_cut]]), np.arange(finer.face_count) >= len(kept)


def cut_faces(mesh: Mesh, chosen: NDArray[np.bool_], *, over_mm: float) -> tuple[Mesh, NDArray[np.int64]]:
    """Cut the chosen faces, and their neighbours with them, until no side of theirs is longer than given.

    Parameters
    ----------
    mesh : any triangles
    chosen : (F,) bool, faces to cut
    over_mm : greatest length of a side, > 0

    Returns
    -------
    mesh : the same surface; the very mesh that was given where no side is longer
    source : (F',) int64, the face that each one was or was part of

    Examples
    --------
    >>> import numpy as np
    >>> corner = Mesh.from_arrays([(0, 0, 0), (3, 0, 0), (0, 4, 0)], [(0, 1, 2)])
    >>> finer, source = cut_faces(corner, np.array([True]), over_mm=2.5)
    >>> finer.face_count, set(source.tolist())
    (4, {0})
    """
    source = np.arange(mesh.face_count, dtype=np.int64)
    large = faces_over(mesh, over_mm) & chosen
    while large.any():
        mesh, origin, new = halve_edges(mesh, large, over_mm=over_mm)
        source = source[origin]
        large = new & chosen[source]
        large[large] = faces_over(Mesh(mesh.vertices, mesh.faces[large]), over_mm)
    return mesh, source


def _side_lengths(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Length of the sides of faces (N, 3, 3), from each corner to the next: (N, 3)."""
    lengths: NDArray[np.float64] = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    return lengths


def _keys(sides: NDArray[np.int32], vertex_count: int) -> NDArray[np.int64]:
    """One number for each side (..., 2), whichever way it runs."""
    wide = sides.astype(np.int64)
    keys: NDArray[np.int64] = wide.min(axis=-1) * vertex_count + wide.max(axis=-1)
    return keys


def _cut_sides(
    faces: NDArray[np.int32], ends: NDArray[np.int64], keys: NDArray[np.int64], vertex_count: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Faces with a halved side, and for each of their sides the number of its key or -1, (C, 3)."""
    touched = np.zeros(vertex_count, np.bool_)
    touched[ends] = True
    near = np.flatnonzero(touched[faces].sum(axis=1) > 1)
    found = _keys(np.stack([faces[near], np.roll(faces[near], -1, axis=1)], axis=-1), vertex_count)
    place = np.minimum(np.searchsorted(keys, found), max(len(keys) - 1, 0))
    number = np.where(keys[place] == found, place, -1) if len(keys) else np.full(found.shape, -1)
    held = (number >= 0).any(axis=1)
    return near[held], number[held]


def _parts(
    vertices: NDArray[np.float64],
    faces: NDArray[np.int32],
    middle: NDArray[np.int64],
    vertex_count: int,
    ends: NDArray[np.int64],
) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """Cut faces into two, three or four by how many of their sides are halved."""
    count = (middle >= 0).sum(axis=1)
    made, of = [np.zeros((0, 3), np.int64)], [np.zeros(0, np.int64)]
    for halved, start_at in ((1, "halved"), (2, "whole"), (3, "halved")):
        rows = np.flatnonzero(count == halved)
        turn = ((middle[rows] >= 0) == (start_at == "halved")).argmax(axis=1)
        order = (turn[:, None] + np.arange(3)) % 3
        a, b, c = np.take_along_axis(faces[rows].astype(np.int64), order, axis=1).T
        sides = np.take_along_axis(middle[rows], order, axis=1)
        ab, bc, ca = (sides + vertex_count).T
        if halved == 1:
            parts = [(a, ab, c), (ab, b, c)]
        elif halved == 2:
            # the whole side runs from a to b; the other two corners of the rest are joined the shorter way
            at_bc, at_ca = (vertices[ends[side]].mean(axis=1) for side in (sides[:, 1], sides[:, 2]))
            across = np.linalg.norm(vertices[a] - at_bc, axis=1) < np.linalg.norm(vertices[b] - at_ca, axis=1)
            parts = [(bc, c, ca), (a, b, np.where(across, bc, ca)), (np.where(across, a, b), bc, ca)]
        else:
            parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
        made += [np.column_stack(part) for part in parts]
        of += [rows] * len(parts)
    return np.concatenate(made).astype(np.int32), np.concatenate(of)
