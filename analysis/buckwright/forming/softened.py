"""Which way the nodes give when they are pulled: two factored Laplacians stand in for the true stiffness."""

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from buckwright.forming.membrane import Reference

__all__ = ["Give", "laplacian"]


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

    def __init__(self, ref: Reference, nodes: int) -> None:
        self._nodes = nodes
        self._entries, self._rows, self._columns = laplacian(ref)
        self._solvers: list[tuple[list[int], NDArray[np.int64], SuperLU]] = []

    def factor(
        self, level: NDArray[np.float64], upright: NDArray[np.float64], free: NDArray[np.bool_]
    ) -> None:
        """Take the stiffness (T,) of the triangles in plan and in height; (N, 3) what is free."""
        x, y, z = free.T
        plan = [([0, 1], x)] if np.array_equal(x, y) else [([0], x), ([1], y)]
        wanted = [(axes, part, level) for axes, part in plan] + [([2], z, upright)]
        self._solvers = [
            (axes, np.flatnonzero(part), self._factored(weight, part))
            for axes, part, weight in wanted
            if part.any()
        ]

    def _factored(self, weight: NDArray[np.float64], free: NDArray[np.bool_]) -> SuperLU:
        size = int(free.sum())
        number = np.full(self._nodes, -1, np.int32)
        number[free] = np.arange(size, dtype=np.int32)
        rows, columns = number[self._rows], number[self._columns]
        kept = np.flatnonzero((rows >= 0) & (columns >= 0))
        data = (self._entries * weight[:, None, None]).ravel()[kept].astype(np.float32)
        matrix = sparse.csc_matrix((data, (rows[kept], columns[kept])), shape=(size, size))
        # single precision halves the work; the answer is only a direction
        options = {"SymmetricMode": True}
        return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)

    def solve(self, forces: NDArray[np.float64]) -> NDArray[np.float64]:
        """Movements (M, N, 3) under M sets of forces; zero where nothing was free when factored."""
        moves = np.zeros_like(forces)
        for axes, part, solver in self._solvers:
            asked = forces[:, part][:, :, axes].transpose(1, 0, 2).reshape(len(part), -1)
            found = solver.solve(np.asfortranarray(asked, np.float32)).reshape(len(part), len(forces), -1)
            moves[:, part[:, None], axes] = found.transpose(1, 0, 2)
        return moves
