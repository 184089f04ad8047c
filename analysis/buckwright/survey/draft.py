"""Draft: the angle of every face against the pull, and the share of the sculpt that has enough of it."""

import math
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh

__all__ = [
    "DRAFT_TOLERANCE_DEG",
    "FEMALE_SHARE",
    "DraftStates",
    "FaceState",
    "draft_deg",
    "draft_states",
    "wanted_draft_deg",
]

DRAFT_TOLERANCE_DEG = 1e-6
"""Angles closer than this are equal: over 200 mm of wall they differ by 3.5e-6 mm, while rounding of
float64 coordinates tilts a 0.01 mm face by about 3e-10 degrees."""

TEXTURE_DEG_PER_MM = 1.0 / 0.0254
"""Extra draft for a textured face: 1 degree per 0.001 in (25.4 um) of texture depth, a rule given for
female moulds and seen second-hand only; injection rules add up to 1.5 degrees for the same depth."""

FEMALE_SHARE = 0.5
"""A female mould needs about half the draft, as the sheet shrinks away from its walls. Published minima are 0
to 2 degrees against 2 to 5 (SPE Thermoforming 101 "Draft Angles", TFQ 25(1), 2006; guides of ThermoPro,
Prestige Tooling, Bridgewood, Kal Plastics); half is a house rule between them."""

HISTOGRAM_EDGES_DEG = tuple(
    float(edge) for edge in (*range(-90, -10, 10), *range(-10, 10), *range(10, 91, 10))
)
"""Ten-degree bins, and one-degree bins within ten degrees of vertical, where draft is decided."""


class FaceState(IntEnum):
    """How the sheet can leave a face along the pull."""

    FREE = 0
    TIGHT = 1
    TRAPPED = 2
    BASE = 3


@dataclass(frozen=True, slots=True, eq=False)
class DraftStates:
    """Faces sorted into free, tight and trapped.

    Attributes
    ----------
    state : (F,) uint8, values of `FaceState`
    wanted_deg : draft from which a face is free, degrees
    free_share, tight_share, trapped_share : shares of the judged area (all faces except the base), 0..1
    judged_mm2 : area that the shares refer to
    bin_edges_deg : (B + 1,) float64, edges of the histogram; the last bin includes its upper edge
    bin_area_mm2 : (B,) float64, judged area in each bin
    tolerance_deg : draft that falls short of `wanted_deg` by less than this is still enough
    """

    state: NDArray[np.uint8]
    wanted_deg: float
    free_share: float
    tight_share: float
    trapped_share: float
    judged_mm2: float
    bin_edges_deg: NDArray[np.float64]
    bin_area_mm2: NDArray[np.float64]
    tolerance_deg: float = DRAFT_TOLERANCE_DEG

    def to_dict(self) -> dict[str, Any]:
        """The `draft` section of report.json.

        Returns
        -------
        dict : shares, area judged and histogram, as numbers and lists
        """
        return {
            "wanted_deg": self.wanted_deg,
            "free_share": self.free_share,
            "tight_share": self.tight_share,
            "trapped_share": self.trapped_share,
            "judged_mm2": self.judged_mm2,
            "histogram": {
                "edges_deg": self.bin_edges_deg.tolist(),
                "area_mm2": self.bin_area_mm2.tolist(),
            },
        }


def draft_deg(mesh: Mesh) -> NDArray[np.float64]:
    """Draft of every face against a pull along +Z.

    Parameters
    ----------
    mesh : faces counter-clockwise seen from outside; it need not be closed

    Returns
    -------
    (F,) float64, degrees in -90..90: 90 faces the pull, 0 is a vertical wall, negative overhangs; nan where a
    face has no area (or a corner that is not finite).

    Notes
    -----
    atan(nz / hypot(nx, ny)) of the area vector in float64: unlike the arcsine of a unit normal it keeps its
    precision near 90 degrees, and nothing is normalised. One pass over the faces without temporaries.
    """
    drafts = np.empty(mesh.face_count)
    _draft_kernel(mesh.vertices, mesh.faces, drafts)
    return drafts


def draft_states(
    mesh: Mesh,
    drafts_deg: NDArray[np.float64],
    *,
    wanted_deg: float,
    trapped: NDArray[np.bool_] | None = None,
    left_out: NDArray[np.bool_] | None = None,
) -> DraftStates:
    """Sort the faces into free, tight and trapped and add up their areas.

    Parameters
    ----------
    mesh : the sculpt in the pull frame
    drafts_deg : (F,) from `draft_deg`
    wanted_deg : draft from which a face is free, 0 up to (not including) 90
    trapped : (F,) bool, faces that the sheet cannot come straight off (`Reach.trapped`); by default, those
        that overhang
    left_out : (F,) bool, faces that belong to the base (`Reach.left_out`); faces without draft (nan) join
        them

    Returns
    -------
    DraftStates : the state of every face, and areas and shares without the base

    Raises
    ------
    InputError
        `wanted_deg` is out of range.

    Notes
    -----
    A trapped face counts as trapped whatever its draft. Without `trapped`, overhangs are found but not what
    lies under them.

    Examples
    --------
    The four walls of a cube have no draft, its bottom overhangs and its top faces the pull:

    >>> import trimesh
    >>> from buckwright.mesh.triangles import Mesh
    >>> box = trimesh.creation.box((10.0, 10.0, 10.0))
    >>> cube = Mesh.from_arrays(box.vertices, box.faces)
    >>> found = draft_states(cube, draft_deg(cube), wanted_deg=3.0)
    >>> [round(share, 3) for share in (found.free_share, found.tight_share, found.trapped_share)]
    [0.167, 0.667, 0.167]
    """
    if not 0.0 <= wanted_deg < 90.0:
        raise InputError(f"the wanted draft must be 0 degrees or more and under 90, got {wanted_deg}")
    base = np.isnan(drafts_deg) if left_out is None else left_out | np.isnan(drafts_deg)
    held = drafts_deg < -DRAFT_TOLERANCE_DEG if trapped is None else trapped
    enough = drafts_deg >= wanted_deg - DRAFT_TOLERANCE_DEG
    state = np.where(enough, np.uint8(FaceState.FREE), np.uint8(FaceState.TIGHT))
    state[held] = FaceState.TRAPPED
    state[base] = FaceState.BASE
    areas = mesh.areas()
    by_state = np.bincount(state, weights=areas, minlength=len(FaceState))
    judged = float(by_state[: FaceState.BASE].sum())
    shares = by_state / judged if judged > 0.0 else np.zeros(len(FaceState))
    edges = np.array(HISTOGRAM_EDGES_DEG)
    # the first and the last bin are open, so that both ends of the range count
    bin_of = np.searchsorted(edges[1:-1], drafts_deg[~base], side="right")
    bins = np.bincount(bin_of, weights=areas[~base], minlength=len(edges) - 1)
    return DraftStates(
        state=state,
        wanted_deg=float(wanted_deg),
        free_share=float(shares[FaceState.FREE]),
        tight_share=float(shares[FaceState.TIGHT]),
        trapped_share=float(shares[FaceState.TRAPPED]),
        judged_mm2=judged,
        bin_edges_deg=edges,
        bin_area_mm2=bins,
    )


def wanted_draft_deg(base_deg: float, texture_depth_mm: float = 0.0) -> float:
    """Draft to aim for: that of the material, plus an extra where the surface is textured.

    Parameters
    ----------
    base_deg : draft of the material on a smooth buck (sheet table), degrees, 0 up to (not including) 90
    texture_depth_mm : depth of the texture that the sheet picks up from the buck, >= 0

    Returns
    -------
    float : degrees, 0 up to (not including) 90

    Raises
    ------
    InputError
        A value is negative or not finite, or the sum reaches 90 degrees.

    Examples
    --------
    >>> wanted_draft_deg(3.0)
    3.0
    >>> round(wanted_draft_deg(3.0, texture_depth_mm=0.0254), 6)
    4.0
    """
    wanted = base_deg + TEXTURE_DEG_PER_MM * texture_depth_mm
    if not (base_deg >= 0.0 and texture_depth_mm >= 0.0 and math.isfinite(wanted)):
        raise InputError(f"draft and texture depth must be 0 or more, got {base_deg} and {texture_depth_mm}")
    if wanted >= 90.0:
        raise InputError(
            f"a texture {texture_depth_mm} mm deep would need {wanted:.0f} degrees of draft; "
            "give the depth of the grain, not of the shape"
        )
    return wanted


@kernel
def _draft_kernel(
    vertices: NDArray[np.float64], faces: NDArray[np.int32], drafts: NDArray[np.float64]
) -> None:
    """Fill `drafts` with the elevation angle of every face normal, degrees."""
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = vertices[a, 0], vertices[a, 1], vertices[a, 2]
        ux, uy, uz = vertices[b, 0] - ax, vertices[b, 1] - ay, vertices[b, 2] - az
        vx, vy, vz = vertices[c, 0] - ax, vertices[c, 1] - ay, vertices[c, 2] - az
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        # atan of a quotient is a third faster than atan2, and 0 / 0 gives nan for a face without area
        drafts[f] = math.degrees(math.atan(nz / math.sqrt(nx * nx + ny * ny)))
