"""Undercuts as true reach along the pull: which faces the sheet cannot come straight off."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.survey.draft import DRAFT_TOLERANCE_DEG, draft_deg

__all__ = ["Reach", "find_trapped"]

WALL_DEG = 0.01
"""Walls closer to vertical than this are sampled slightly outside the surface, where the sheet lies: a wall
under its own flush rim is not covered by that rim."""

NUDGE_IN_SLACKS = 100.0
"""How far outside, in units of the slack of the columns (1e-9 of the extent): 0.02 um on a 200 mm sculpt."""


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """What stands above each face, and which faces overhang.

    Attributes
    ----------
    drafts_deg : (F,) float64, draft against the pull, nan without area
    leaning : (F,) bool, the face overhangs (draft below 0 by more than `lean_tolerance_deg`)
    covered : (F,) bool, a surface stands above the middle of the face
    left_out : (F,) bool, wholly at or below `floor_z`, or without area: neither leaning nor covered is set
    cover_z : (F,) float64, mm, height of the top surface above the middle of the face; nan where not covered
    depth_mm : (F,) float64, `cover_z` less the face's own height; 0 where not covered
    floor_z : mm, the plane of the base
    lean_tolerance_deg : an overhang of less counts as vertical
    slack_mm : a surface counts as above only if it is higher by more than this
    """

    drafts_deg: NDArray[np.float64]
    leaning: NDArray[np.bool_]
    covered: NDArray[np.bool_]
    left_out: NDArray[np.bool_]
    cover_z: NDArray[np.float64]
    depth_mm: NDArray[np.float64]
    floor_z: float
    lean_tolerance_deg: float
    slack_mm: float

    @property
    def trapped(self) -> NDArray[np.bool_]:
        """Faces that overhang or have something above them, (F,) bool."""
        return self.leaning | self.covered


def find_trapped(
    mesh: Mesh,
    columns: Columns | None = None,
    *,
    floor_z: float = -np.inf,
    lean_tolerance_deg: float = DRAFT_TOLERANCE_DEG,
    source: NDArray[np.int64] | None = None,
) -> Reach:
    """Find the faces that overhang or have something above them.

    Parameters
    ----------
    mesh : the sculpt in the pull frame, closed or open
    columns : of the same mesh (of the one that it is part of, with `source`); built here when not given
    floor_z : faces wholly at or below this height belong to the base and are left out, mm
    lean_tolerance_deg : overhang that still counts as vertical, degrees, >= 0
    source : (F,) face of the mesh of `columns` that each face is a part of; by default, itself

    Returns
    -------
    Reach : one value per face

    Notes
    -----
    One exact column through the middle of each face, float64: the face is covered when the top surface there
    is another face, higher by more than the slack of the columns (1e-9 of the extent). Comparing face numbers
    first keeps rounding out of the answer for faces that are seen. Linear in the number of faces.

    Examples
    --------
    Only the bottom of a cube is trapped, and it is left out once it counts as the base:

    >>> import trimesh
    >>> from buckwright.mesh.triangles import Mesh
    >>> box = trimesh.creation.box((10.0, 10.0, 10.0))
    >>> cube = Mesh.from_arrays(box.vertices, box.faces)
    >>> int(find_trapped(cube).trapped.sum())
    2
    >>> int(find_trapped(cube, floor_z=-5.0).trapped.sum())
    0
    """
    columns = Columns(mesh) if columns is None else columns
    drafts = draft_deg(mesh) if source is None else draft_deg(columns.mesh)[source]
    points, highest = np.empty((mesh.face_count, 3)), np.empty(mesh.face_count)
    _middles(mesh.vertices, mesh.faces, drafts, NUDGE_IN_SLACKS * columns.slack_mm, points, highest)
    top, face = columns.top(points)
    own = np.arange(mesh.face_count) if source is None else source
    slack = columns.slack_mm
    left_out = np.isnan(drafts) | (highest <= floor_z + slack)
    covered = (face != own) & (top > points[:, 2] + slack) & ~left_out
    return Reach(
        drafts_deg=drafts,
        leaning=(drafts < -lean_tolerance_deg) & ~left_out,
        covered=covered,
        left_out=left_out,
        cover_z=np.where(covered, top, np.nan),
        depth_mm=np.where(covered, top - points[:, 2], 0.0),
        floor_z=float(floor_z),
        lean_tolerance_deg=lean_tolerance_deg,
        slack_mm=slack,
    )


@kernel
def _middles(vertices, faces, drafts, nudge, points, highest):  # type: ignore[no-untyped-def]
    """Middle (moved off near-vertical walls) and highest corner of every face."""
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = vertices[a, 0], vertices[a, 1], vertices[a, 2]
        bx, by, bz = vertices[b, 0], vertices[b, 1], vertices[b, 2]
        cx, cy, cz = vertices[c, 0], vertices[c, 1], vertices[c, 2]
        points[f, 0] = (ax + bx + cx) / 3.0
        points[f, 1] = (ay + by + cy) / 3.0
        points[f, 2] = (az + bz + cz) / 3.0
        highest[f] = max(az, bz, cz)
        if abs(drafts[f]) < WALL_DEG:
            nx = (by - ay) * (cz - az) - (bz - az) * (cy - ay)
            ny = (bz - az) * (cx - ax) - (bx - ax) * (cz - az)
            level = math.hypot(nx, ny)
            points[f, 0] += nudge * nx / level
            points[f, 1] += nudge * ny / level
