"""Orienting: make neighbours agree, turn closed shells outward."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.adjacency import boundary_loops, edge_table, shells
from buckwright.mesh.checking import shell_volumes_mm3
from buckwright.mesh.triangles import Mesh

__all__ = ["consistent", "loop_area_mm2", "outward"]

#: An open shell whose openings span less than this share of its area is taken as a body with holes, and the
#: sign of its volume decides; above it (a relief, a dome: a hemisphere has 1/2) the winding given is kept.
_BODY_OPENING = 0.4


def consistent(mesh: Mesh) -> tuple[Mesh, int, int]:
    """Turn faces so that neighbours run opposite ways along their common edge.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    Mesh
        The same object where all agree. In each patch the winding of the majority is kept.
    int
        Faces turned.
    int
        Edges where no winding agrees (a Moebius strip has some).

    Notes
    -----
    Breadth-first over edges of exactly two faces; edges with more are not crossed.
    """
    table = edge_table(mesh.faces)
    regular = np.flatnonzero(table.face_count == 2)
    mate = np.full(3 * mesh.face_count, -1, np.int32)
    one, two = table.half_edges[table.start[regular]], table.half_edges[table.start[regular] + 1]
    mate[one], mate[two] = two, one
    turned, patch, patches, torn = _spread(mesh.faces, mate)
    turned_share = np.bincount(patch, weights=turned, minlength=patches) / np.bincount(
        patch, minlength=patches
    )
    turned = turned != (turned_share > 0.5)[patch]
    return _turned(mesh, turned), int(turned.sum()), int(torn)


@kernel
def _spread(faces: Any, mate: Any) -> Any:
    """Whether each face is turned against the first of its patch; patches; edges that cannot agree."""
    total = len(faces)
    patch = np.full(total, -1, np.int32)
    turned = np.zeros(total, np.bool_)
    queue = np.empty(total, np.int32)
    patches = 0
    torn = 0
    for seed in range(total):
        if patch[seed] >= 0:
            continue
        patch[seed] = patches
        queue[0] = seed
        head, tail = 0, 1
        while head < tail:
            f = queue[head]
            head += 1
            for k in range(3):
                h = mate[3 * f + k]
                if h < 0:
                    continue
                g = h // 3
                same_way = faces[f, k] == faces[g, h % 3]
                wanted = turned[f] != same_way
                if patch[g] < 0:
                    patch[g] = patches
                    turned[g] = wanted
                    queue[tail] = g
                    tail += 1
                elif turned[g] != wanted and f < g:
                    torn += 1
        patches += 1
    return turned, patch, patches, torn


def outward(mesh: Mesh) -> tuple[Mesh, int]:
    """Turn inside-out shells.

    Parameters
    ----------
    mesh : neighbours already agree

    Returns
    -------
    Mesh
        The same object where nothing had to be turned. Every closed shell has a positive volume afterwards:
        cavities become bodies and are absorbed by the body around them when the two are united.
    int
        Shells turned.
    """
    labels, count = shells(mesh)
    volumes = shell_volumes_mm3(mesh, labels, count)
    body = np.ones(count, bool)
    for shell, (volume, share) in _open_shells(mesh, labels, count).items():
        body[shell] = share < _BODY_OPENING
        volumes[shell] = volume
    inverted = body & (volumes < 0)
    return _turned(mesh, inverted[labels]), int(inverted.sum())


def _open_shells(mesh: Mesh, labels: NDArray[np.int32], count: int) -> dict[int, tuple[float, float]]:
    """For each open shell: its volume when each loop is closed by a fan, and the share of its openings."""
    loops: dict[int, list[NDArray[np.int32]]] = {}
    face_of = np.zeros(mesh.vertex_count, np.int32)
    face_of[mesh.faces.ravel()] = np.repeat(np.arange(mesh.face_count, dtype=np.int32), 3)
    for loop in boundary_loops(mesh.faces):
        loops.setdefault(int(labels[face_of[loop[0]]]), []).append(loop)
    areas = np.bincount(labels, weights=mesh.areas(), minlength=count)
    order = np.argsort(labels, kind="stable")
    start = np.searchsorted(labels[order], np.arange(count + 1))
    result = {}
    for shell, own in loops.items():
        part = mesh.submesh(order[start[shell] : start[shell + 1]])
        middle = part.vertices.mean(axis=0)
        a, b, c = np.moveaxis(part.corners() - middle, 1, 0)
        volume = float(np.einsum("ij,ij->", a, np.cross(b, c)))
        for loop in own:
            points = mesh.vertices[loop] - middle
            centre = points.mean(axis=0)
            # the cap runs against the loop
            volume += float(np.einsum("ij,ij->", np.roll(points, -1, axis=0), np.cross(points, centre)))
        opening = sum(float(np.linalg.norm(loop_area_mm2(mesh, loop))) for loop in own)
        result[shell] = (volume / 6.0, opening / max(areas[shell], 1e-300))
    return result


def loop_area_mm2(mesh: Mesh, loop: NDArray[np.int32]) -> NDArray[np.float64]:
    """Area vector of a cap over a boundary loop; it points out of the cap.

    Parameters
    ----------
    mesh : neighbours agree in winding
    loop : (L,) int32, from `adjacency.boundary_loops`

    Returns
    -------
    (3,) float64, mm2
    """
    points = mesh.vertices[loop] - mesh.vertices[loop[0]]
    vector: NDArray[np.float64] = 0.5 * np.cross(np.roll(points, -1, axis=0), points).sum(axis=0)
    return vector


def _turned(mesh: Mesh, chosen: NDArray[np.bool_]) -> Mesh:
    """Reverse the winding of the chosen faces."""
    if not chosen.any():
        return mesh
    faces = mesh.faces.copy()
    faces[chosen] = faces[chosen][:, ::-1]
    return Mesh(mesh.vertices, faces)
