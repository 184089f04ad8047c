"""Preconditioner: factored Laplacians approximating the tangent stiffness."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from buckwright.forming.forecast.elimination_order import Net
from buckwright.forming.forecast.membrane import Reference
from buckwright.kernel import kernel

__all__ = ["Preconditioner", "laplacian"]

_PANEL = 1  # columns that are worked on together: in nets such as these a fifth faster than the usual 20


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
    """One factored Laplacian: the axes that it serves, the places of its rows among the nodes, the factor.

    `scale` (3, n) multiplies forces and movements along each axis.
    """

    axes: NDArray[np.int64]
    places: NDArray[np.int64]
    factor: SuperLU
    scale: NDArray[np.float64]

    def solve(self, forces: NDArray[np.float64], moves: NDArray[np.float64]) -> None:
        """Write its share of the movements (M, n, 3) under M sets of forces."""
        for force, move in zip(forces, moves, strict=True):
            asked = np.empty((len(self.axes), len(self.places)), np.float32)
            _ask(force, self.places, self.axes, self.scale, asked)
            _answer(self.factor.solve(asked.T), self.places, self.axes, self.scale, move)


class Preconditioner:
    """Factored stiffness of the free nodes, in plan and in height.

    The true tangent of a membrane is three times as large and turns indefinite where the sheet wrinkles or
    balloons; an upper bound by two scalar Laplacians is cheap to factor and hardly ever leads uphill. Where
    nodes may move along all axes, the one for height is that for plan, scaled node by node to its diagonal
    and taken in part: the sheet takes as many steps with it, each for little more than half the work.

    Parameters
    ----------
    ref : the stress-free sheet
    net : see `elimination_order.net_of`
    height_share : of the scaled answer in height that is taken, 0..1; see `formed.Care`
    """

    def __init__(self, ref: Reference, net: Net, *, height_share: float = 1.0) -> None:
        self._net, self._triangles, self._height_share = net, ref.triangles, height_share
        self._entries = laplacian(ref)[0].reshape(-1, 9)
        self.nodes = np.empty(0, np.int64)
        self._factors: list[_Factor] = []

    def factor(
        self,
        level: NDArray[np.float64],
        upright: NDArray[np.float64],
        free: NDArray[np.bool_],
        *,
        listed: NDArray[np.int64] | None = None,
    ) -> None:
        """Factor the stiffness of the free nodes; afterwards `nodes` (n,) lists them in rising order.

        Parameters
        ----------
        level, upright : (t,) float64, stiffness of the triangles in plan and in height
        free : (N, 3) bool, axes along which each node may move
        listed : (t,) int64, the triangles that are meant, all that have a free node; None: every one
        """
        loose = free.any(1)
        self.nodes = np.flatnonzero(loose)
        place = np.cumsum(loose) - 1
        listed = np.arange(len(level)) if listed is None else listed
        x, y, z = free.T
        if np.array_equal(x, y) and np.array_equal(x, z):
            parts = [([0, 1, 2], x, level)]
        elif np.array_equal(x, y):
            parts = [([0, 1], x, level), ([2], z, upright)]
        else:
            parts = [([0], x, level), ([1], y, level), ([2], z, upright)]
        self._factors = []  # the memory of the old ones, before new ones take theirs
        self._factors = [
            self._factored(axes, among, weight, upright, listed, place)
            for axes, among, weight in parts
            if among.any()
        ]

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
        for one in self._factors:
            one.solve(forces, moves)
        return moves

    def _factored(
        self,
        axes: list[int],
        free: NDArray[np.bool_],
        weight: NDArray[np.float64],
        upright: NDArray[np.float64],
        listed: NDArray[np.int64],
        place: NDArray[np.int64],
    ) -> _Factor:
        net = self._net
        values = np.zeros(len(net.rows))
        _add(net.slot, self._entries, listed, weight, values)
        among = free[net.order]
        matrix = sparse.csc_matrix(_among(among, net.start, net.rows, values))
        options = {"SymmetricMode": True}
        factor = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, panel_size=_PANEL, options=options)
        nodes = net.order[among]
        scale = np.ones((3, len(nodes)))
        if len(axes) == 3:
            diagonals = np.zeros((2, len(free)))
            _add_diagonals(self._triangles, self._entries, listed, weight, upright, diagonals)
            scale[2] = np.sqrt(self._height_share * diagonals[0, nodes] / diagonals[1, nodes])
        return _Factor(np.array(axes), place[nodes], factor, scale)


@kernel
def _ask(force, places, axes, scale, asked):  # type: ignore[no-untyped-def]
    for k in range(axes.shape[0]):
        for n in range(places.shape[0]):
            asked[k, n] = force[places[n], axes[k]] * scale[axes[k], n]


@kernel
def _answer(found, places, axes, scale, move):  # type: ignore[no-untyped-def]
    for k in range(axes.shape[0]):
        for n in range(places.shape[0]):
            move[places[n], axes[k]] = found[n, k] * scale[axes[k], n]


@kernel
def _add(slot, entries, listed, weight, values):  # type: ignore[no-untyped-def]
    """Add the entries of the listed triangles to their places in the matrix."""
    for n in range(listed.shape[0]):
        for k in range(9):
            values[slot[9 * listed[n] + k]] += entries[listed[n], k] * weight[n]


@kernel
def _add_diagonals(triangles, entries, listed, level, upright, out):  # type: ignore[no-untyped-def]
    for n in range(listed.shape[0]):
        t = listed[n]
        for k in range(3):
            out[0, triangles[t, k]] += entries[t, 4 * k] * level[n]
            out[1, triangles[t, k]] += entries[t, 4 * k] * upright[n]


@kernel
def _among(among, start, rows, values):  # type: ignore[no-untyped-def]
    """Entries, rows and beginnings of the columns of some of the rows and columns."""
    number = np.cumsum(among).astype(np.int32) - np.int32(1)
    size = number[-1] + 1
    # single precision halves the work; the answer is only a direction
    data, found = np.empty(rows.shape[0], np.float32), np.empty(rows.shape[0], np.int32)
    begin = np.zeros(size + 1, np.int32)
    count = 0
    for c in range(among.shape[0]):
        if not among[c]:
            continue
        for k in range(start[c], start[c + 1]):
            if among[rows[k]]:
                data[count], found[count] = values[k], number[rows[k]]
                count += 1
        begin[number[c] + 1] = count
    return data[:count], found[:count], begin
