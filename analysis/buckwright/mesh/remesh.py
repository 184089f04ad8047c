"""Remeshing, the last resort: a new surface around everything that the old one winds around."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.adjacency import edge_table, shells
from buckwright.mesh.checking import shell_volumes_mm3
from buckwright.mesh.repair import drop_unused, without_flat_faces
from buckwright.mesh.triangles import Mesh

__all__ = ["Remesh", "default_voxel_mm", "remesh", "solid_in_box"]

_VOXELS_ACROSS = 400  # along the largest extent: 0.5 mm on a 200 mm bust
_FINEST_MM = 0.4  # a nozzle's width: common practice, no source
_MOST_VOXELS = 150_000_000  # bytes of the map of active voxels
_MOST_CORNERS = 6_000_000  # of a box in which every corner is asked
_SAMPLES = 50_000  # vertices of the new and faces of the old surface that are measured

_CORNERS = np.array(  # in the order of igl.marching_cubes
    [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)]
)


@dataclass(frozen=True, slots=True, eq=False)
class Remesh:
    """A new closed surface and how far it lies from the old one.

    Attributes
    ----------
    mesh : closed, outward
    voxel_mm : spacing of the grid
    moved_mm, moved_rms_mm : largest and root-mean-square distance between the old outer surface and the
        new one, both ways; new surface over holes is left out
    lost_share : share of the old surface that is sheet without thickness and not in the new one, 0 .. 1
    """

    mesh: Mesh
    voxel_mm: float
    moved_mm: float
    moved_rms_mm: float
    lost_share: float


def default_voxel_mm(mesh: Mesh) -> float:
    """Largest extent / 400; not below 0.4 mm, but at least 60 voxels across.

    Parameters
    ----------
    mesh : the surface to remesh

    Returns
    -------
    float : mm
    """
    across = float(mesh.size.max())
    return min(max(across / _VOXELS_ACROSS, _FINEST_MM), across / 60.0)


def remesh(mesh: Mesh, *, voxel_mm: float | None = None) -> Remesh:
    """Build a new surface at the winding number 1/2 of the old one.

    Parameters
    ----------
    mesh : triangles in any state, wound outward on the whole
    voxel_mm : grid spacing, > 0; `default_voxel_mm` unless given

    Returns
    -------
    Remesh : the new surface, and how far it lies from the old one

    Raises
    ------
    MeshError
        Nothing is wound around (a sheet, or faces in disorder), or the grid would not fit into memory.

    Notes
    -----
    Fast generalised winding number (G. Barill and others, Fast Winding Numbers for Soups and Clouds, ACM
    Transactions on Graphics 37(4), 2018; libigl) gives the sign and the nearest triangle the distance, on the
    corners of the voxels along the surface. The band grows wherever the sign changes along its border, so
    that holes are spanned. Then marching cubes (libigl).
    """
    voxel = default_voxel_mm(mesh) if voxel_mm is None else voxel_mm
    if not voxel > 0:
        raise MeshError(f"the voxel of a remesh must be above 0 mm, got {voxel:g}")
    origin = mesh.bounds[0] - 2.5 * voxel
    shape = np.ceil((mesh.size + 5.0 * voxel) / voxel).astype(np.int64) + 1
    if shape.prod() > _MOST_VOXELS:
        raise MeshError(f"a remesh at {voxel:g} mm needs {shape.prod():.2g} voxels; use a larger one")
    surface = _marched(mesh, origin, shape, voxel)
    labels, count = shells(surface)
    big = shell_volumes_mm3(surface, labels, count) > 8.0 * voxel**3
    if not big.any():
        raise MeshError(
            "the surface encloses nothing, so it cannot become a solid; "
            "close or thicken it in your sculpting program"
        )
    surface = drop_unused(Mesh(surface.vertices, surface.faces[big[labels]]))
    outer, lost = _outer_samples(mesh, voxel)
    distance = _distance_moved(mesh, surface, voxel, outer)
    return Remesh(surface, voxel, float(distance.max()), float(np.sqrt(np.mean(distance**2))), lost)


def solid_in_box(
    mesh: Mesh, low: NDArray[np.float64], high: NDArray[np.float64], *, voxel_mm: float, inset_mm: float = 0.0
) -> Mesh:
    """What a mesh winds around within a box, as a closed surface.

    Parameters
    ----------
    mesh : triangles in any state, wound outward on the whole
    low, high : (3,) corners of the box, mm
    voxel_mm : grid spacing, > 0
    inset_mm : how far below the surface the new one lies, mm, below a voxel

    Returns
    -------
    Mesh
        Closed along the sides of the box, up to a voxel within it; without faces where nothing is inside.

    Raises
    ------
    MeshError
        The grid would not fit into memory.
    """
    shape = np.maximum(np.ceil((high - low) / voxel_mm), 2.0).astype(np.int64)
    if (shape + 1).prod() > _MOST_CORNERS:
        raise MeshError(f"a box of {shape.prod():.2g} voxels is too large; use larger ones")
    numbers = np.arange((shape + 1).prod())
    winding = _winding_in_box(mesh, _points(numbers, low, shape, voxel_mm), shape, voxel_mm)
    winding[_on_border(numbers, shape)] = 0.0
    cells = np.stack(np.unravel_index(np.arange(shape.prod()), tuple(shape)), axis=1)
    return _surface(mesh, numbers, winding, cells, low, shape, voxel_mm, inset_mm)


def _winding_in_box(
    mesh: Mesh, points: NDArray[np.float64], shape: NDArray[np.int64], voxel: float
) -> NDArray[np.float64]:
    """Winding numbers at all corners of a grid; around a closed surface one is asked for each space of it.

    Of two neighbours on different sides of a surface one is no farther from it than half a voxel.
    """
    import igl
    from scipy.ndimage import label

    if (edge_table(mesh.faces).face_count % 2).any():
        return _winding(mesh, points)
    squared = igl.point_mesh_squared_distance(points, mesh.vertices, mesh.faces.astype(np.int64))[0]
    far = squared > (0.51 * voxel) ** 2
    spaces, count = label(far.reshape(tuple(shape + 1)))
    space = spaces.ravel()
    asked = np.flatnonzero(~far)
    first = np.unique(space, return_index=True)[1][-count:] if count else np.zeros(0, np.int64)
    winding = np.zeros(len(points))
    winding[asked] = _winding(mesh, points[asked])
    winding[far] = _winding(mesh, points[first])[space[far] - 1]
    return winding


def _marched(mesh: Mesh, origin: NDArray[np.float64], shape: NDArray[np.int64], voxel: float) -> Mesh:
    """Grow the band of voxels until the surface no longer leaves it, then march through it."""
    cells = _touched_cells(mesh, origin, shape, voxel)
    known, winding = np.zeros(0, np.int64), np.zeros(0)
    new = cells
    while len(new):
        fresh = np.setdiff1d(_flat(new[:, None] + _CORNERS, shape), known)
        order = np.argsort(np.concatenate([known, fresh]), kind="stable")
        asked = _winding(mesh, _points(fresh, origin, shape, voxel))
        winding = np.concatenate([winding, asked])[order]
        known = np.concatenate([known, fresh])[order]
        inside = winding[np.searchsorted(known, _flat(new[:, None] + _CORNERS, shape))] > 0.5
        beyond = _across_mixed_sides(new, inside, shape)
        new = beyond[~np.isin(_flat(beyond, shape), _flat(cells, shape))]
        cells = np.concatenate([cells, new])
    return _surface(mesh, known, winding, cells, origin, shape, voxel)


def _surface(
    mesh: Mesh,
    known: NDArray[np.int64],
    winding: NDArray[np.float64],
    cells: NDArray[np.int64],
    origin: NDArray[np.float64],
    shape: NDArray[np.int64],
    voxel: float,
    inset: float = 0.0,
) -> Mesh:
    """March through voxels of whose corners the winding numbers are known."""
    import igl

    places = np.searchsorted(known, _flat(cells[:, None] + _CORNERS, shape))
    inside = winding[places] > 0.5
    # an inset takes in cells that lie wholly inside
    places = places[inside.any(axis=1) & (~inside.all(axis=1) | (inset > 0))]
    if not len(places):
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    used, places = np.unique(places, return_inverse=True)
    points = _points(known[used], origin, shape, voxel)
    values = _signed_distance(mesh, points, winding[used], voxel)
    if inset:
        values += inset
        values = np.copysign(np.maximum(np.abs(values), 0.01 * voxel), values)
        outside = values[places] > 0
        places = places[outside.any(axis=1) & ~outside.all(axis=1)]
    vertices, faces, _ = igl.marching_cubes(values, points, places.reshape(-1, 8).astype(np.int64), 0.0)
    surface = Mesh.from_arrays(vertices, faces)
    if surface.volume_mm3() < 0:
        surface = Mesh(surface.vertices, np.ascontiguousarray(surface.faces[:, ::-1]))
    return without_flat_faces(surface)


def _on_border(numbers: NDArray[np.int64], shape: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which grid corners are on the border of the grid."""
    place = np.stack(np.unravel_index(numbers, tuple(shape + 1)), axis=1)
    border: NDArray[np.bool_] = ((place == 0) | (place == shape)).any(axis=1)
    return border


def _points(
    numbers: NDArray[np.int64], origin: NDArray[np.float64], shape: NDArray[np.int64], voxel: float
) -> NDArray[np.float64]:
    """Positions of grid corners, (N, 3), mm."""
    points: NDArray[np.float64] = origin + voxel * np.stack(
        np.unravel_index(numbers, tuple(shape + 1)), axis=1
    )
    return points


def _across_mixed_sides(
    cells: NDArray[np.int64], inside: NDArray[np.bool_], shape: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Voxels across those sides of `cells` whose four corners are not all on one side of the surface."""
    found = [np.zeros((0, 3), np.int64)]
    for axis in range(3):
        for end, step in ((0, -1), (1, 1)):
            side = inside[:, _CORNERS[:, axis] == end]
            found.append(cells[side.any(axis=1) & ~side.all(axis=1)] + step * np.eye(3, dtype=np.int64)[axis])
    beside = np.concatenate(found)
    beside = beside[((beside >= 0) & (beside < shape)).all(axis=1)]
    return np.stack(np.unravel_index(np.unique(_flat(beside, shape)), tuple(shape + 1)), axis=1)


def _flat(cells: NDArray[np.int64], shape: NDArray[np.int64]) -> NDArray[np.int64]:
    """One number for every corner of the grid."""
    rows, columns = int(shape[1]) + 1, int(shape[2]) + 1
    number: NDArray[np.int64] = (cells[..., 0] * rows + cells[..., 1]) * columns + cells[..., 2]
    return number


def _touched_cells(
    mesh: Mesh, origin: NDArray[np.float64], shape: NDArray[np.int64], voxel: float
) -> NDArray[np.int64]:
    """Voxels that the surface passes through, (N, 3), by points no farther apart than half a voxel."""
    points = [mesh.vertices]
    corners = mesh.corners()
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    pieces = np.ceil(2.0 * longest / voxel).astype(np.int64)
    for count in np.unique(pieces[pieces > 1]):
        i, j = np.triu_indices(int(count) + 1)
        weights = np.stack([i, j - i, count - j], axis=1) / count
        chosen = corners[pieces == count]
        for part in np.array_split(chosen, 1 + len(chosen) * len(weights) // 10_000_000):
            points.append(np.unique(_cell_of(np.einsum("kc,fcx->fkx", weights, part), origin, voxel), axis=0))
            points[-1] = origin + (points[-1] + 0.5) * voxel
    cells = np.unique(_flat(_cell_of(np.concatenate(points), origin, voxel), shape))
    return np.stack(np.unravel_index(cells, tuple(shape + 1)), axis=1)


def _cell_of(points: NDArray[np.float64], origin: NDArray[np.float64], voxel: float) -> NDArray[np.int64]:
    return np.floor((points.reshape(-1, 3) - origin) / voxel).astype(np.int64)


def _winding(mesh: Mesh, points: NDArray[np.float64]) -> NDArray[np.float64]:
    import igl

    if not len(points):
        return np.zeros(0)
    number: NDArray[np.float64] = igl.fast_winding_number(mesh.vertices, mesh.faces.astype(np.int64), points)
    return number


def _signed_distance(
    mesh: Mesh, points: NDArray[np.float64], winding: NDArray[np.float64], voxel: float
) -> NDArray[np.float64]:
    """Positive outside; the distance near the surface, the winding number where it spans a hole."""
    import igl

    outside = 0.5 - winding
    squared = igl.point_mesh_squared_distance(points, mesh.vertices, mesh.faces.astype(np.int64))[0]
    # half a winding counts as two voxels, so that the distance decides wherever there is a surface
    value = np.minimum(np.sqrt(squared), np.abs(outside) * 4.0 * voxel)
    # not on the corner itself, so that new vertices stay apart
    signed: NDArray[np.float64] = np.copysign(np.maximum(value, 0.01 * voxel), outside)
    return signed


def _outer_samples(mesh: Mesh, voxel: float) -> tuple[NDArray[np.float64], float]:
    """Points on faces with the inside behind and the outside in front; share of the area with neither."""
    vectors = mesh.area_vectors()
    area = np.linalg.norm(vectors, axis=1)
    chosen = np.arange(0, mesh.face_count, max(1, mesh.face_count // _SAMPLES))
    chosen = chosen[area[chosen] > 0]
    step = 0.5 * voxel * vectors[chosen] / area[chosen][:, None]
    corners = mesh.vertices[mesh.faces[chosen]]
    middle = corners.mean(axis=1)
    # corners are sampled slightly inside the face, where in front and behind are still well defined
    points = np.concatenate([middle[:, None], 0.98 * corners + 0.02 * middle[:, None]], axis=1).reshape(-1, 3)
    step = np.repeat(step, 4, axis=0)
    before, behind = _winding(mesh, points + step) > 0.5, _winding(mesh, points - step) > 0.5
    nowhere = (~before & ~behind)[::4]
    lost = float(area[chosen][nowhere].sum() / area[chosen].sum())
    return points[behind & ~before], lost


def _distance_moved(old: Mesh, new: Mesh, voxel: float, outer: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distances from samples of each surface to the other, without inner walls and without filled holes."""
    import igl

    old_faces, new_faces = old.faces.astype(np.int64), new.faces.astype(np.int64)
    samples = new.vertices[:: max(1, new.vertex_count // _SAMPLES)]
    squared, face, _ = igl.point_mesh_squared_distance(samples, old.vertices, old_faces)
    table = edge_table(old.faces)
    at_rim = np.zeros(old.face_count, bool)
    at_rim[table.faces[table.face_count == 1, 0]] = True
    # where nearly everything is rim (a soup of loose faces) the rim has to count
    real = ~at_rim[face] if at_rim.mean() < 0.5 else squared <= voxel**2
    back, _, _ = igl.point_mesh_squared_distance(outer, new.vertices, new_faces)
    distance: NDArray[np.float64] = np.sqrt(np.concatenate([squared[real], back, np.zeros(1)]))
    return distance
