"""Sculpting with distance fields: put `Shape`s together on a lattice of blocks, take out a closed mesh.

A recipe is a function that adds and cuts shapes on a `Clay`. It runs twice: once on the block centres, to
learn which blocks hold surface, and once on the fine lattice inside those blocks only. Every operation is
local to the bounding box of its shape, so a sculpt of hundreds of feathers costs little more than one of a
few.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

import igl
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

__all__ = ["Clay", "Faces", "Field", "Points", "Shape", "largest_part", "mesh_of"]

Points = NDArray[np.float32]
Field = NDArray[np.float32]
Faces = NDArray[np.int32]

CELLS = 8
"""Cells along the edge of a block."""
CHUNK = 256
"""Blocks worked on at once: keeps temporary arrays near the cache."""
STEEPEST = 1.5
"""Bound for the gradient of the fields used here (true distance: 1; bent plates and ellipsoids: more)."""
CORNERS = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)])
"""Corner order of `igl.marching_cubes`."""
CELL_FACES = [[0, 1, 2, 3], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]]
"""The corners around each side of a cell."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A body given by its distance function.

    Attributes
    ----------
    distance : points (..., 3) mm -> (...) mm, negative inside
    low, high : (3,) mm, a box around the body
    """

    distance: Callable[[Points], Field]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


@dataclass(slots=True)
class Clay:
    """Sample points in blocks and the distance field on them.

    Attributes
    ----------
    centres : (B, 3) block centres, mm
    half : half the edge of a block, mm
    band : distance from the surface within which the field has to be right, mm
    points : (B, N, 3) sample points, mm
    field : (B, N) mm, negative inside
    slack : how far the displacements may have moved the surface, mm
    """

    centres: NDArray[np.float64]
    half: float
    band: float
    points: Points
    field: Field
    slack: float = 0.0

    @classmethod
    def blank(cls, centres: NDArray[np.float64], points: Points, *, half: float, band: float) -> Self:
        """Nothing but air."""
        return cls(centres, half, band, points, np.full(points.shape[:2], 1e3, np.float32))

    def add(self, shape: Shape, blend: float = 0.0) -> None:
        """Unite with a shape; `blend` is the width of the fillet, mm."""
        self._work(shape, blend, lambda field, other: _smooth_min(field, other, blend))

    def cut(self, shape: Shape, blend: float = 0.0) -> None:
        """Take a shape away; `blend` is the width of the rounded edge, mm."""
        self._work(shape, blend, lambda field, other: -_smooth_min(-field, other, blend))

    def keep_above(self, height: float) -> None:
        """Cut everything off below z = height."""
        for part in _chunks(np.arange(len(self.centres))):
            self.field[part] = np.maximum(self.field[part], height - self.points[part][..., 2])

    def displace(self, amount: Callable[[Points], Field], most: float) -> None:
        """Move the surface outwards by amount(points), at most `most` mm either way."""
        self.slack += most
        if self.points.shape[1] == 1:
            return
        reach = self.band + most
        for part in _chunks(np.arange(len(self.centres))):
            field, points = self.field[part], self.points[part]
            close = np.abs(field) < reach
            field[close] -= amount(points[close])
            self.field[part] = field

    def _work(self, shape: Shape, blend: float, combine: Callable[[Field, Field], Field]) -> None:
        margin = self.half + self.band + 1.5 * blend
        near = np.all((self.centres > shape.low - margin) & (self.centres < shape.high + margin), axis=1)
        for part in _chunks(np.flatnonzero(near)):
            self.field[part] = combine(self.field[part], shape.distance(self.points[part]))


def mesh_of(
    recipe: Callable[[Clay], None],
    *,
    low: tuple[float, float, float],
    high: tuple[float, float, float],
    pitch: float,
) -> tuple[NDArray[np.float64], Faces]:
    """Run a recipe inside a box and take out its surface by marching cubes.

    Parameters
    ----------
    recipe : works on the Clay that it is given
    low, high : box that holds the whole body with some air around, mm
    pitch : lattice spacing, mm

    Returns
    -------
    vertices (V, 3) float64 mm and faces (F, 3) int32, closed, outward
    """
    edge = CELLS * pitch
    counts = np.ceil((np.array(high) - low) / edge).astype(int)
    blocks = np.stack(np.meshgrid(*(np.arange(n) for n in counts), indexing="ij"), -1).reshape(-1, 3)
    blocks = blocks[_blocks_with_surface(recipe, np.array(low) + (blocks + 0.5) * edge, edge / 2)]
    corner = np.array(low) + blocks * edge
    points = (corner[:, None, :] + _steps(CELLS + 1) * pitch).astype(np.float32)
    clay = Clay.blank(corner + edge / 2, points, half=edge / 2, band=2 * pitch)
    recipe(clay)
    return largest_part(*_march(clay.field, blocks, counts, np.array(low), pitch))


def largest_part(vertices: NDArray[np.float64], faces: Faces) -> tuple[NDArray[np.float64], Faces]:
    """Only the connected shell with the most faces: no crumbs outside, no bubbles between the feathers."""
    links = np.concatenate([faces[:, :2], faces[:, 1:]])
    graph = coo_array((np.ones(len(links), bool), (links[:, 0], links[:, 1])), shape=(len(vertices),) * 2)
    _, shell = connected_components(graph, directed=False)
    of_face = shell[faces[:, 0]]
    chosen = faces[of_face == np.bincount(of_face).argmax()]
    used, numbers = np.unique(chosen, return_inverse=True)
    return vertices[used], numbers.reshape(-1, 3).astype(np.int32)


def _blocks_with_surface(
    recipe: Callable[[Clay], None], centres: NDArray[np.float64], half: float
) -> NDArray[np.intp]:
    reach = STEEPEST * np.sqrt(3.0) * half
    clay = Clay.blank(centres, centres[:, None, :].astype(np.float32), half=half, band=reach)
    recipe(clay)
    return np.flatnonzero(np.abs(clay.field[:, 0]) < reach + clay.slack)


def _march(
    field: Field, blocks: NDArray[np.intp], counts: NDArray[np.intp], low: NDArray[np.float64], pitch: float
) -> tuple[NDArray[np.float64], Faces]:
    size = tuple(int(n) for n in counts * CELLS + 1)
    lattice = _shared(field, blocks, size)
    corners = _settled_cells(lattice, blocks, size)
    unique, numbers = np.unique(corners.ravel(), return_inverse=True)
    values = lattice[unique].astype(np.float64)
    # Values near zero would make needle triangles; the surface moves by less than a fiftieth of a cell.
    least = 0.02 * pitch
    values = np.where(values < 0, np.minimum(values, -least), np.maximum(values, least))
    where = low + np.stack(np.unravel_index(unique, size), 1) * pitch
    vertices, faces, _ = igl.marching_cubes(values, where, numbers.reshape(-1, 8).astype(np.int64), 0.0)
    return vertices, np.ascontiguousarray(faces, np.int32)


def _shared(field: Field, blocks: NDArray[np.intp], size: tuple[int, ...]) -> Field:
    """One value a lattice point; where blocks that share one differ (far from the surface), the last says."""
    lattice = np.full(int(np.prod(size)), 1e3, np.float32)
    for part in _chunks(np.arange(len(blocks))):
        lattice[_names(blocks[part], size)] = field[part]
    return lattice


def _names(blocks: NDArray[np.intp], size: tuple[int, ...]) -> NDArray[np.intp]:
    """(B, N) flat lattice indices of the sample points of blocks."""
    stride = np.array([size[1] * size[2], size[2], 1])
    return (blocks * CELLS @ stride)[:, None] + _steps(CELLS + 1) @ stride


def _steps(count: int) -> NDArray[np.intp]:
    """(count^3, 3) lattice steps, z fastest."""
    along = np.arange(count)
    return np.stack(np.meshgrid(along, along, along, indexing="ij"), -1).reshape(-1, 3)


def _settled_cells(lattice: Field, blocks: NDArray[np.intp], size: tuple[int, ...]) -> NDArray[np.intp]:
    """(C, 8) corners of the cells that hold surface, after every ambiguity in `lattice` has been settled.

    A cell face whose corners alternate between inside and outside lets marching cubes join two sheets along
    one edge, which no solid may have; the outer corner nearest to the surface is taken inside. Points only
    ever go in, so this ends.
    """
    while True:
        corners = np.concatenate(
            [_crossed(lattice, blocks[part], size) for part in _chunks(np.arange(len(blocks)))]
        )
        values = lattice[corners]
        inside = values < 0
        doubtful = []
        for face in CELL_FACES:
            a, b, c, d = inside[:, face].T
            rows = np.flatnonzero((a == c) & (b == d) & (a != b))
            weakest = np.where(inside[rows][:, face], np.inf, values[rows][:, face]).argmin(1)
            doubtful.append(corners[rows, np.array(face)[weakest]])
        points = np.unique(np.concatenate(doubtful))
        if not len(points):
            return corners
        lattice[points] = -np.maximum(lattice[points], np.float32(1e-6))


def _crossed(lattice: Field, blocks: NDArray[np.intp], size: tuple[int, ...]) -> NDArray[np.intp]:
    """(C, 8) corners of the cells of these blocks with corners on both sides."""
    names = _names(blocks, size)
    side = CELLS + 1
    inside = (lattice[names] < 0).reshape(-1, side, side, side)
    windows = [inside[:, x : x + CELLS, y : y + CELLS, z : z + CELLS] for x, y, z in CORNERS]
    cells = np.argwhere(np.logical_or.reduce(windows) & ~np.logical_and.reduce(windows))
    stride = np.array([size[1] * size[2], size[2], 1])
    origin = names[cells[:, 0], 0] + cells[:, 1:] @ stride
    return origin[:, None] + CORNERS @ stride


def _smooth_min(a: Field, b: Field, blend: float) -> Field:
    """Quadratic blend of two fields: the plain minimum where they differ by more than `blend`."""
    least = np.minimum(a, b)
    if blend <= 0:
        return least
    overlap = np.maximum(np.float32(blend) - np.abs(a - b), np.float32(0))
    return least - overlap * overlap * np.float32(0.25 / blend)


def _chunks(chosen: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    return [chosen[start : start + CHUNK] for start in range(0, len(chosen), CHUNK)]
