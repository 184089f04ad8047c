"""The filled sculpt in a form that can be kept: its solid as arrays until it is asked for."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.draft_fill import Fill, fill_draft
from buckwright.shape.fill.plan_cells import CellSizes
from buckwright.shape.fill.settings import FillSettings
from buckwright.shape.solid import SLIVER_MM3
from buckwright.shape.solid_arrays import Body, arrays_of, without_crumbs

__all__ = ["Filled", "fill_sculpt"]

# The cells of the fill grow with the sculpt, so that a large sculpt costs no more than a small one.
_CELLS_ACROSS = 350.0
_LEAST_CELL_MM = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """The fill.

    Attributes
    ----------
    figures : everything but the solid
    body : the filled sculpt, made from arrays
    cell_mm : largest cell of the fill
    dropped : closed cavities and crumbs that were left out of the body
    """

    figures: Fill
    body: Body
    cell_mm: float
    dropped: int = 0

    @classmethod
    def of(cls, fill: Fill, cell_mm: float) -> "Filled":
        """Take the solid of a fill apart.

        Parameters
        ----------
        fill : with its solid
        cell_mm : largest cell that it was made with

        Returns
        -------
        Filled
        """
        arrays, dropped = without_crumbs(arrays_of(fill.solid), sliver_mm3=SLIVER_MM3)
        return cls(replace(fill, solid=Manifold()), Body(arrays), cell_mm, dropped)

    @property
    def mark(self) -> int:
        """Mark of the fill's faces in the body, -1 without fill."""
        return -1 if self.figures.mark < 0 else self.body.mark(self.figures.mark)


def fill_sculpt(
    mesh: Mesh,
    body: Body,
    columns: Columns | None,
    drafts_deg: NDArray[np.float64],
    locked_faces: NDArray[np.bool_],
    *,
    wall_deg: float,
    fill: FillSettings,
    tick: Callable[[float], None],
) -> Filled:
    """Fill what the sheet cannot leave.

    Parameters
    ----------
    mesh : closed, standing on z = 0, mm
    body : the same as a solid, made from arrays
    columns : of the mesh; made here if None
    drafts_deg : (F,) draft of every face, degrees
    locked_faces : (F,) faces of regions that lock the part
    wall_deg : draft of the walls of the fill, degrees
    fill : settings
    tick : called with the share that is done, 0..1; may raise to stop

    Returns
    -------
    Filled

    Notes
    -----
    The solid of the sculpt was made from arrays, and what comes next goes on from the arrays of the filled
    one, whether they were kept or not: a solid that was put together again merges other coplanar faces.
    """
    cell = fill.cell_mm or max(float(mesh.size[:2].max()) / _CELLS_ACROSS, _LEAST_CELL_MM)
    made = fill_draft(
        mesh,
        Columns(mesh) if columns is None else columns,
        drafts_deg,
        wall_deg=wall_deg,
        mode=fill.mode,
        keep_tight=fill.keep_tight,
        locked_faces=locked_faces,
        tolerance_mm=fill.tolerance_mm,
        settings=CellSizes(cell_mm=cell, wall_cell_mm=cell / 2.0, rim_cell_mm=cell / 4.0),
        solid=lambda: body.solid,
        tick=tick,
    )
    return Filled.of(made, cell)
