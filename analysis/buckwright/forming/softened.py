"""Which way the nodes give when they are pulled: two factored Laplacians stand in for the true stiffness."""

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from buckwright.forming.membrane import Reference

__all__ = ["Give", "dissected", "laplacian"]

_SMALL = 24
_STRIP = 0.55  # half its width in cells: no edge of the lattice reaches over it


def laplacian(ref: Reference) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32]]:
    """Entries of the Laplacian of the flat sheet, (T, 3, 3), and the row and column of each, (9T,)."""
    a, b, d, e = ref.inverse.T
    zero = np.zeros_like(a)
    grad = np.stack([np.stack([zero - a - d, zero - b - e], 1), np.stack([a, b], 1), np.stack([d, e], 1)], 1)
    entries = ref.area_mm2[:, None, None] * (grad @ grad.transpose(0, 2, 1))
    return entries, np.repeat(ref.triangles, 3, axis=1).ravel(), np.tile(ref.triangles, (1, 3)).ravel()


class Give:
    """Factored stiffness of the free nodes, one for plan and one for height.

    The true tangent of a membrane is three times as large and turns indefinite where the sheet wrinkles or
    balloons; a bound from above by two scalar Laplacians is cheap to factor and never leads uphill.
    """

    def __init__(self, ref: Reference, order: NDArray[np.int64]) -> None:
        self._order = order
        self._entries, self._rows, self._columns = laplacian(ref)
        self._solvers: list[tuple[list[int], NDArray[np.int64], SuperLU]] = []

    def factor(
        self, level: NDArray[np.float64], upright: NDArray[np.float64], free: NDArray[np.bool_]
    ) -> None:
        """Take the stiffness (T,) of the triangles in plan and in height; (N, 3) what is free."""
        x, y, z = free.T
        plan = [([0, 1], x)] if np.array_equal(x, y) else [([0], x), ([1], y)]
        wanted = [(axes, part, level) for axes, part in plan] + [([2], z, upright)]
        self._solvers = []
        for axes, mask, weight in wanted:
            part = self._order[mask[self._order]]
            if len(part):
                self._solvers.append((axes, part, self._factored(weight, part)))

    def _factored(self, weight: NDArray[np.float64], part: NDArray[np.int64]) -> SuperLU:
        number = np.full(len(self._order), -1, np.int32)
        number[part] = np.arange(len(part), dtype=np.int32)
        rows, columns = number[self._rows], number[self._columns]
        kept = np.flatnonzero((rows >= 0) & (columns >= 0))
        data = (self._entries * weight[:, None, None]).ravel()[kept].astype(np.float32)
        matrix = sparse.csc_matrix((data, (rows[kept], columns[kept])), shape=(len(part), len(part)))
        # single precision halves the work; the answer is only a direction
        options = {"SymmetricMode": True}
        return splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options=options)

    def solve(self, forces: NDArray[np.float64]) -> NDArray[np.float64]:
        """Movements (M, N, 3) under M sets of forces; zero where nothing was free when factored."""
        moves = np.zeros_like(forces)
        sets = len(forces)
        for axes, part, solver in self._solvers:
            asked = np.empty((sets * len(axes), len(part)), np.float32)
            for n in range(sets):
                for k, axis in enumerate(axes):
                    asked[n * len(axes) + k] = forces[n, part, axis]
            found = solver.solve(asked.T)
            for n in range(sets):
                for k, axis in enumerate(axes):
                    moves[n, part, axis] = found[:, n * len(axes) + k]
        return moves


def dissected(points: NDArray[np.float64], cell: float) -> NDArray[np.int64]:
    """Order of nodes (N, 2) that keeps a factor of their mesh thin: halves first, what parts them last.

    Nested dissection by coordinates (A. George, SIAM J. Numer. Anal. 10, 1973): a strip as wide as a cell
    parts the longer side at its middle. Against minimum degree it saves a quarter of the factoring.
    """

    def split(nodes: NDArray[np.int64]) -> list[NDArray[np.int64]]:
        if len(nodes) <= _SMALL:
            return [nodes]
        here = points[nodes]
        along = here[:, int(np.argmax(np.ptp(here, axis=0)))]
        away = along - np.median(along)
        strip = np.abs(away) <= _STRIP * cell
        if strip.mean() > 0.7:
            return [nodes]
        return [*split(nodes[~strip & (away < 0.0)]), *split(nodes[~strip & (away > 0.0)]), nodes[strip]]

    return np.concatenate(split(np.arange(len(points))))
