"""Which way the nodes give when they are pulled: two factored Laplacians stand in for the true stiffness."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from buckwright.forming.membrane import Reference
from buckwright.forming.net_order import Net
from buckwright.kernel import in_parts

__all__ = ["Give", "laplacian"]

_WORTH_THREADS = 10_000  # free nodes from which two factors are worth a thread each


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

    def __init__(self, ref: Reference, net: Net) -> None:
        self._net = net
        self._entries = laplacian(ref)[0]
        self._solvers: list[tuple[list[int], NDArray[np.int64], SuperLU]] = []
        self.nodes = np.empty(0, np.int64)

    def factor(
        self, level: NDArray[np.float64], upright: NDArray[np.float64], free: NDArray[np.bool_]
    ) -> None:
        """Take the stiffness (T,) of the triangles in plan and in height; (N, 3) what is free.

        The nodes that are free along any axis, in rising order, are `nodes` (n,) from then on.
        """
        loose = free.any(1)
        self.nodes = np.flatnonzero(loose)
        place = np.cumsum(loose) - 1
        x, y, z = free.T
        plan = [([0, 1], x)] if np.array_equal(x, y) else [([0], x), ([1], y)]
        wanted = [(axes, part, level) for axes, part in plan] + [([2], z, upright)]
        wanted = [(axes, part, weight) for axes, part, weight in wanted if part.any()]
        found: list[SuperLU | None] = [None] * len(wanted)

        def work(begin: int, end: int) -> None:
            for n in range(begin, end):
                found[n] = self._factored(wanted[n][2], wanted[n][1])

        _each(work, len(wanted), int(z.sum()))
        order = self._net.order
        self._solvers = [
            (axes, place[order[part[order]]], solver)
            for (axes, part, _), solver in zip(wanted, found, strict=True)
            if solver is not None
        ]

    def _factored(self, weight: NDArray[np.float64], free: NDArray[np.bool_]) -> SuperLU:
        net = self._net
        among = free[net.order]
        number = np.cumsum(among, dtype=np.int32) - np.int32(1)
        kept = among[net.rows] & among[net.columns]
        before = np.concatenate([[0], np.cumsum(kept)])[net.start]
        start = np.concatenate([[0], np.cumsum(np.diff(before)[among])])
        values = np.bincount(net.slot, (self._entries * weight[:, None, None]).ravel(), len(net.rows))
        size = int(number[-1]) + 1
        # single precision halves the work; the answer is only a direction
        matrix = sparse.csc_matrix(
            (values[kept].astype(np.float32), number[net.rows[kept]], start.astype(np.int32)),
            shape=(size, size),
        )
        options = {"SymmetricMode": True}
        return splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options=options)

    def solve(self, forces: NDArray[np.float64]) -> NDArray[np.float64]:
        """Movements (M, n, 3) of the `nodes` under M sets of forces."""
        moves = np.zeros_like(forces)

        def work(begin: int, end: int) -> None:
            for axes, part, solver in self._solvers[begin:end]:
                places = [(n, axis) for n in range(len(forces)) for axis in axes]
                asked = np.empty((len(places), len(part)), np.float32)
                for k, (n, axis) in enumerate(places):
                    asked[k] = forces[n, part, axis]
                found = solver.solve(asked.T)
                for k, (n, axis) in enumerate(places):
                    moves[n, part, axis] = found[:, k]

        free = max((len(part) for _, part, _ in self._solvers), default=0)
        _each(work, len(self._solvers), free)
        return moves


def _each(work: Callable[[int, int], None], count: int, free: int) -> None:
    """Share out the factors, one a thread, where there is enough to do for each."""
    in_parts(work, count, least=1 if free >= _WORTH_THREADS else max(count, 1))
