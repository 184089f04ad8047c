"""Reach asked on parts of large faces, so that the answer does not hang on how a solid is cut into triangles.

A question about a face is put to one point of it. That does not matter on the small faces of a scan, but a
table top of two triangles would be wholly covered or not at all. So large faces are cut for the question, and
again where the answer changes from one part to the next. Only the survey sees these parts: the buck keeps
the sculpt's own faces.
"""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.splitting import cut_faces, faces_over, halve_edges
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.survey.undercut import Reach, find_trapped

__all__ = ["FINE_SHARE", "Parts", "reach_on_parts"]

LARGE_SHARE = 1.0 / 50.0
"""Sides longer than this share of the sculpt's size are cut before anything is asked: house rule; what
shades less than that on a large face can be missed."""

FINE_SHARE = 1.0 / 300.0
"""Parts on the border of what is covered are cut down to this share: a shadow a third of the sculpt wide is
then found to within 1 % of its area."""


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Parts of faces, to which questions are put.

    Attributes
    ----------
    mesh : the parts, mm; the same surface as the given mesh
    source : (P,) int64, the face of the given mesh that each part belongs to
    face_count : number of faces of the given mesh
    """

    mesh: Mesh
    source: NDArray[np.int64]
    face_count: int

    def greatest(self, values: NDArray[Any]) -> NDArray[Any]:
        """The greatest value among the parts of each face.

        Parameters
        ----------
        values : (P,) numbers, one for each part

        Returns
        -------
        (F,) of the same kind, one for each face of the given mesh

        Examples
        --------
        >>> import numpy as np
        >>> from buckwright.mesh.triangles import Mesh
        >>> none = Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
        >>> Parts(none, np.array([0, 1, 1]), 2).greatest(np.array([5, 3, 4])).tolist()
        [5, 4]
        """
        order = np.argsort(self.source, kind="stable")
        first = np.searchsorted(self.source[order], np.arange(self.face_count))
        return np.asarray(np.maximum.reduceat(values[order], first)) if len(first) else values[:0]


def reach_on_parts(mesh: Mesh, columns: Columns, *, floor_z: float) -> tuple[Reach, Parts | None]:
    """Find what is trapped, on parts of faces where faces are large.

    Parameters
    ----------
    mesh : the sculpt in the pull frame
    columns : of the same mesh
    floor_z : faces wholly at or below this height belong to the base and are left out, mm

    Returns
    -------
    Reach, Parts or None : one value for each part; without parts (no face is large), for each face

    Notes
    -----
    The area that counts as trapped is out by no more than about a third of the finest part's side times the
    length of the shadow's border, on either side.
    """
    size = float(mesh.size.max(initial=0.0))
    stands = mesh.vertices[:, 2][mesh.faces].max(axis=1, initial=-np.inf) > floor_z
    parts = Parts(*cut_faces(mesh, stands, over_mm=LARGE_SHARE * size), mesh.face_count)
    reach = find_trapped(parts.mesh, columns, floor_z=floor_z, source=parts.source)
    fine = FINE_SHARE * size
    border = _at_border(parts.mesh, reach, fine)
    while border.any():
        finer, origin, new = halve_edges(parts.mesh, border, over_mm=fine)
        parts = Parts(finer, parts.source[origin], parts.face_count)
        asked = Mesh(finer.vertices, finer.faces[new])
        answer = find_trapped(asked, columns, floor_z=floor_z, source=parts.source[new])
        reach = _merged(reach, origin, answer, new)
        border = _at_border(finer, reach, fine)
    return reach, parts if parts.mesh.face_count > mesh.face_count else None


def _at_border(mesh: Mesh, reach: Reach, over_mm: float) -> NDArray[np.bool_]:
    """Judged faces with a side longer than given that touch both covered ground and open ground."""
    border = np.empty(mesh.face_count, np.bool_)
    _mark_border(mesh.faces, reach.covered, np.zeros((mesh.vertex_count, 2), np.bool_), border)
    border &= ~reach.left_out
    near = np.flatnonzero(border)
    border[near] = faces_over(Mesh(mesh.vertices, mesh.faces[near]), over_mm)
    return border


@kernel
def _mark_border(faces, covered, touches, border):  # type: ignore[no-untyped-def]
    """Faces with a vertex at which covered and open faces meet; `touches` is room to work in, all False."""
    for f in range(faces.shape[0]):
        side = 1 if covered[f] else 0
        for k in range(3):
            touches[faces[f, k], side] = True
    for f in range(faces.shape[0]):
        border[f] = False
        for k in range(3):
            border[f] |= touches[faces[f, k], 0] and touches[faces[f, k], 1]


def _merged(old: Reach, origin: NDArray[np.int64], answer: Reach, new: NDArray[np.bool_]) -> Reach:
    """Old answers for what was not cut, new ones for the parts."""
    merged: dict[str, Any] = {}
    for field in fields(Reach):
        before = getattr(old, field.name)
        if isinstance(before, np.ndarray):
            merged[field.name] = before[origin]
            merged[field.name][new] = getattr(answer, field.name)
    return replace(old, **merged)
