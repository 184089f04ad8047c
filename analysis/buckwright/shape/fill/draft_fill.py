"""Draft fill: the smallest added solid that lets the sheet release straight up."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.cones import ConeField
from buckwright.shape.fill.cracks import crack_plugs
from buckwright.shape.fill.envelope_solid import EnvelopeSolid, build_envelope_solid
from buckwright.shape.fill.plan_cells import CellSizes
from buckwright.shape.fill.rims import find_rims
from buckwright.shape.solid import as_mesh, as_solid, new_mark, united

__all__ = ["Fill", "FillMode", "fill_draft"]

FillMode = Literal["full", "locked", "none"]

# An upright wall carries the rounding of its file format: 0.01 degree is 0.017 mm in 100 mm.
_UPRIGHT_DEG = -0.01
_PLUG_ROUNDS = 4
_SEAM_MM = 1e-6
"""Where patch and sculpt meet at a flat angle, manifold3d leaves a vertex for every pair of edges that cross.
With this tolerance it drops those that do not move the seam; from 1e-5 mm on, faces begin to cross."""
# Shares of the time, measured on a sculpt of a million faces.
_RIMS_DONE, _PATCH_DONE, _UNION_DONE = 0.05, 0.45, 0.65


@dataclass(frozen=True, slots=True, eq=False)
class Fill:
    """The sculpt with its fill.

    Attributes
    ----------
    solid : sculpt and fill as one solid, standing on z = 0
    plugged : number of prisms that closed cracks left by the union
    mode, wall_deg, tolerance_mm : as requested
    added_volume_mm3 : volume of the fill
    gap_before_mm : largest sideways gap under a rim that was filled
    gap_left_mm : largest sideways gap that was left because it is below the tolerance
    mark : mark of the fill's faces in `solid` (see `solid.faces_of`), -1 where there are none
    cells : (N, 4) float64, x, y, side of plan cells that hold fill and the height of fill over the sculpt, mm
    """

    solid: Manifold
    plugged: int
    mode: FillMode
    wall_deg: float
    tolerance_mm: float
    added_volume_mm3: float
    gap_before_mm: float
    gap_left_mm: float
    mark: int
    cells: NDArray[np.float64]

    def to_dict(self) -> dict[str, Any]:
        """Figures for report.json.

        Returns
        -------
        dict : settings, volume, gaps and the number of cracks closed
        """
        return {
            "mode": self.mode,
            "wall_deg": self.wall_deg,
            "tolerance_mm": self.tolerance_mm,
            "added_volume_mm3": self.added_volume_mm3,
            "gap_before_mm": self.gap_before_mm,
            "gap_left_mm": self.gap_left_mm,
            "plugged_cracks": self.plugged,
        }


def fill_draft(
    mesh: Mesh,
    columns: Columns,
    draft_deg: NDArray[np.float64],
    *,
    wall_deg: float,
    mode: FillMode = "full",
    keep_tight: bool = False,
    locked_faces: NDArray[np.bool_] | None = None,
    tolerance_mm: float = 0.02,
    settings: CellSizes | None = None,
    solid: Manifold | Callable[[], Manifold] | None = None,
    tick: Callable[[float], None] | None = None,
) -> Fill:
    """Add what the sheet needs to release straight up, and no more.

    Parameters
    ----------
    mesh : closed sculpt in the pull frame that stands on z = 0; it is not changed
    columns : its columns
    draft_deg : (F,) float64, draft of its faces, degrees
    wall_deg : draft of the walls of fill, 0 < wall_deg < 45
    mode : `full` frees every trapped face and gives every face the wanted draft; `locked` fills only over
        `locked_faces`; `none` adds nothing
    keep_tight : leave the sculpt's own faces between 0 and the wanted draft alone
    locked_faces : (F,) bool, for the mode `locked`
    tolerance_mm : places where the solid recedes by less than this under a rim are left alone
    settings : fineness of the fill's mesh
    solid : the sculpt as a manifold3d solid, if already built, or what builds it
    tick : called with the share done, 0..1; may raise to stop the work

    Returns
    -------
    Fill : sculpt and fill as one solid, with the figures of the fill

    Raises
    ------
    InputError
        The draft is out of range, or the mode `locked` comes without its faces.
    SolidError
        The sculpt is not a closed solid.

    Notes
    -----
    Fill is {z <= envelope} minus the sculpt, where the envelope is the greatest of z_p - |x - p| / tan(wall)
    over all points p of the sculpt. Bare vertices of the sculpt stay where they are; see `rims` for what
    counts as a rim and `envelope_solid` for the error of the walls.
    """
    if not 0.0 < wall_deg < 45.0:
        raise InputError(f"the wanted draft must lie between 0 and 45 degrees, got {wall_deg}")
    body = _once(mesh, solid)
    if mode == "none":
        return Fill(body(), 0, mode, wall_deg, tolerance_mm, 0.0, 0.0, 0.0, -1, np.zeros((0, 4)))
    if mode == "locked" and locked_faces is None:
        raise InputError("the fill mode 'locked' needs to know the locked faces")
    wanted = locked_faces if mode == "locked" else None
    told = tick or (lambda _share: None)
    rims = find_rims(
        mesh,
        columns,
        draft_deg,
        enough_deg=_UPRIGHT_DEG if keep_tight or mode == "locked" else wall_deg,
        wall_deg=wall_deg,
        tolerance_mm=tolerance_mm,
        wanted_faces=wanted,
    )
    told(_RIMS_DONE)
    field = ConeField(rims.segments, draft_deg=wall_deg)
    patch = build_envelope_solid(
        field,
        rims,
        columns,
        settings=settings or CellSizes(),
        wanted_faces=wanted,
        meanwhile=body,
        tick=lambda share: told(_RIMS_DONE + share * (_PATCH_DONE - _RIMS_DONE)),
    )
    told(_PATCH_DONE)
    filled, mark = _joined(body(), patch)
    plugged = 0
    if mode == "full" and mark >= 0:
        filled, plugged = _plugged(filled, told, open_within_mm=max(2.5 * tolerance_mm, 0.05))
    added = max(filled.volume() - body().volume(), 0.0)
    before, left = rims.gap_mm
    return Fill(filled, plugged, mode, wall_deg, tolerance_mm, added, before, left, mark, patch.cells)


def _once(mesh: Mesh, solid: Manifold | Callable[[], Manifold] | None) -> Callable[[], Manifold]:
    """Gives the sculpt as a solid, built at the first call."""

    @cache
    def built() -> Manifold:
        if solid is None:
            return as_solid(mesh)
        return solid if isinstance(solid, Manifold) else solid()

    return built


def _plugged(
    solid: Manifold, told: Callable[[float], None], *, open_within_mm: float
) -> tuple[Manifold, int]:
    """Close cracks until none is found; a plug may leave a smaller one beside it."""
    count = 0
    near = None
    for done in range(_PLUG_ROUNDS):
        told(_UNION_DONE + (1.0 - _UNION_DONE) * done / _PLUG_ROUNDS)
        plugs = crack_plugs(as_mesh(solid), open_within_mm=open_within_mm, near_mm=near)
        if not plugs:
            break
        count += len(plugs)
        boxes = np.array([plug.bounding_box() for plug in plugs])
        near = np.concatenate([boxes[:, :2], boxes[:, 3:5]])
        solid = united([solid, united(plugs)])
    return solid, count


def _joined(body: Manifold, patch: EnvelopeSolid) -> tuple[Manifold, int]:
    """Unite sculpt and patch and cut off what is below z = 0; the mark of the patch, -1 without one."""
    if patch.mesh is None:
        return body, -1
    mark = new_mark()
    fill = as_solid(patch.mesh, mark=mark).set_tolerance(_SEAM_MM)
    whole = united([body, fill]).trim_by_plane((0.0, 0.0, 1.0), 0.0)
    return whole.set_tolerance(body.get_tolerance()), mark
