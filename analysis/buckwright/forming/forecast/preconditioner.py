"""Preconditioner: two factored Laplacians approximating the tangent stiffness."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from buckwright.forming.forecast.elimination_order import Net
from buckwright.forming.forecast.membrane import Reference

__all__ = ["Preconditioner", "laplacian"]

_WORTH_THREADS = 10_000  # nodes from which two factors are worth a thread each


def laplacian(ref: Reference) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32]]:
    """Entries of the Laplacian of the flat sheet.

    Parameters
    ----------
    ref : the stress-free sheet

    Returns
    -------
    (T, 3, 3) float64, (9T,) int32, (9T,) int32 : entries, and the row and column of each
    """
    a, b, d, e = ref.inverse.T
    zero = np.zeros_like(a)
    grad = np.stack([np.stack([zero - a - d, zero - b - e], 1), np.stack([a, b], 1), np.stack([d, e], 1)], 1)
    entries = ref.area_mm2[:, None, None] * (grad @ grad.transpose(0, 2, 1))
    return entries, np.repeat(ref.triangles, 3, axis=1).ravel(), np.tile(ref.triangles, (1, 3)).ravel()


@dataclass(frozen=True, slots=True, eq=False)
class _Factor:
    """One factored Laplacian: the axes that it serves, the places of its rows among the nodes, the factor."""

    axes: list[int]
    places: NDArray[np.int64]
    factor: SuperLU

    def solve(self, forces: NDArray[np.float64], moves: NDArray[np.float64]) -> None:
        """Write its share of the movements (M, n, 3) under M sets of forces."""
        wanted = [(n, axis) for n in range(len(forces)) for axis in self.axes]
        asked = np.empty((len(wanted), len(self.places)), np.float32)
        for k, (n, axis) in enumerate(wanted):
            asked[k] = forces[n, self.places, axis]
        found = self.factor.solve(asked.T)
        for k, (n, axis) in enumerate(wanted):
            moves[n, self.places, axis] = found[:, k]


class Preconditioner:
    """Factored stiffness of the free nodes, one for plan and one for height.

    The true tangent of a membrane is three times as large and turns indefinite where the sheet wrinkles or
    balloons; an upper bound by two scalar Laplacians is cheap to factor and never leads uphill.
    """

    def __init__(self, ref: Reference, net: Net) -> None:
        self._net = net
        self._entries = laplacian(ref)[0]
        self.nodes = np.empty(0, np.int64)
        self._plan: list[_Factor] = []
        self._height: list[_Factor] = []
        # A thread for height alone: scipy frees the memory of a factor only in the thread that made it.
        two = len(net.order) >= _WORTH_THREADS and (os.process_cpu_count() or 1) > 1
        self._beside = ThreadPoolExecutor(1) if two else None

    def factor(
        self, level: NDArray[np.float64], upright: NDArray[np.float64], free: NDArray[np.bool_]
    ) -> None:
        """Factor the stiffness of the free nodes; afterwards `nodes` (n,) lists them in rising order.

        Parameters
        ----------
        level, upright : (T,) float64, stiffness of the triangles in plan and in height
        free : (N, 3) bool, axes along which each node may move
        """
        loose = free.any(1)
        self.nodes = np.flatnonzero(loose)
        place = np.cumsum(loose) - 1
        x, y, z = free.T
        plan = [([0, 1], x)] if np.array_equal(x, y) else [([0], x), ([1], y)]

        def height() -> None:
            self._height = self._factored(upright, [([2], z)], place)

        def within() -> None:
            self._plan = self._factored(level, plan, place)

        self._both(within, height)

    def solve(self, forces: NDArray[np.float64]) -> NDArray[np.float64]:
        """Movements of the `nodes` under several sets of forces.

        Parameters
        ----------
        forces : (M, n, 3) float64

        Returns
        -------
        (M, n, 3) float64, mm, computed in single precision
        """
        moves = np.zeros_like(forces)

        def height() -> None:
            for one in self._height:
                one.solve(forces, moves)

        def within() -> None:
            for one in self._plan:
                one.solve(forces, moves)

        self._both(within, height)
        return moves

    def _both(self, here: Callable[[], object], beside: Callable[[], object]) -> None:
        if self._beside is None:
            here()
            beside()
            return
        other = self._beside.submit(beside)
        try:
            here()
        finally:
            other.result()

    def _factored(
        self,
        weight: NDArray[np.float64],
        parts: list[tuple[list[int], NDArray[np.bool_]]],
        place: NDArray[np.int64],
    ) -> list[_Factor]:
        net = self._net
        values = np.bincount(net.slot, (self._entries * weight[:, None, None]).ravel(), len(net.rows))
        made = []
        for axes, free in parts:
            if not free.any():
                continue
            among = free[net.order]
            number = np.cumsum(among, dtype=np.int32) - np.int32(1)
            kept = among[net.rows] & among[net.columns]
            before = np.concatenate([[0], np.cumsum(kept)])[net.start]
            start = np.concatenate([[0], np.cumsum(np.diff(before)[among])])
            size = int(number[-1]) + 1
            # single precision halves the work; the answer is only a direction
            matrix = sparse.csc_matrix(
                (values[kept].astype(np.float32), number[net.rows[kept]], start.astype(np.int32)),
                shape=(size, size),
            )
            options = {"SymmetricMode": True}
            factor = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options=options)
            made.append(_Factor(axes, place[net.order[among]], factor))
        return made
