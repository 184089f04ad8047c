"""How the hot sheet sags in its frame before it is formed."""

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import spsolve

from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.preconditioner import laplacian
from buckwright.forming.forecast.sheet_grid import SheetGrid

__all__ = ["sagged"]


def sagged(grid: SheetGrid, sag_mm: float) -> NDArray[np.float64]:
    """Drop of each node for a given drop at the lowest point.

    Parameters
    ----------
    grid : the flat sheet
    sag_mm : drop at the lowest point, >= 0

    Returns
    -------
    (N,) float64, mm, 0 to `sag_mm`

    Notes
    -----
    The shape is that of an evenly stretched skin under an even load (Poisson's equation): a paraboloid in a
    round frame. How far a sheet sags is left to the user: it needs hot moduli that no table has. The sheet
    has yielded, so it is taken as free of stress in this shape, and evenly thinner.
    """
    if sag_mm == 0.0:
        return np.zeros(len(grid.nodes))
    ref = reference(grid.nodes, grid.triangles)
    entries, rows, columns = laplacian(ref)
    size = len(grid.nodes)
    matrix = sparse.csr_matrix((entries.ravel(), (rows, columns)), shape=(size, size))
    load = np.bincount(grid.triangles.ravel(), np.repeat(ref.area_mm2 / 3.0, 3), size)
    free = np.flatnonzero(~grid.clamped)
    drop = np.zeros(size)
    drop[free] = spsolve(matrix[free][:, free].tocsc(), load[free])
    return np.asarray(sag_mm * drop / drop.max())
