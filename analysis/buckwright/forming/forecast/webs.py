"""Where the sheet folds on itself: webs. The criterion is this tool's own heuristic, not a published one."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from buckwright.forming.forecast.membrane import Reference, stretches

__all__ = ["Web", "find_webs", "slack_share"]


_LEANING = -0.1  # height of the unit normal of a face that overhangs: a buck seen from above has none
_SLACK = 0.1  # a web has a triangle that is at least this much narrower than a strip pulled lengthwise
_LEAST_CELLS = 4  # folded triangles; fewer are within the noise of the mesh


@dataclass(frozen=True, slots=True)
class Web:
    """One fold of the sheet.

    Attributes
    ----------
    where_mm : (3,) its middle
    ends_mm : its line: the highest and the lowest point, each (3,)
    length_mm : from one end to the other
    height_mm : of its highest point over the platen
    folded_area_mm2 : flat sheet that overhangs in it; depends on the mesh, so for comparison only
    crosses_trim_line : whether it rises above the trim line; None where none was given
    """

    where_mm: tuple[float, float, float]
    ends_mm: tuple[tuple[float, float, float], tuple[float, float, float]]
    length_mm: float
    height_mm: float
    folded_area_mm2: float
    crosses_trim_line: bool | None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes, points as lists
        """
        return {
            "where_mm": list(self.where_mm),
            "ends_mm": [list(end) for end in self.ends_mm],
            "length_mm": self.length_mm,
            "height_mm": self.height_mm,
            "folded_area_mm2": self.folded_area_mm2,
            "crosses_trim_line": self.crosses_trim_line,
        }


def slack_share(points: NDArray[np.float64], ref: Reference) -> NDArray[np.float64]:
    """How much narrower than its natural width each triangle is: 0 taut, towards 1 folded flat.

    Parameters
    ----------
    points : (N, 3) float64, mm, the formed sheet
    ref : the stress-free sheet

    Returns
    -------
    (T,) float64, 0 to 1

    Notes
    -----
    A strip of incompressible sheet pulled to the stretch s has the width s^-1/2; what is narrower has lost
    its tension across and wrinkles (tension field theory; Pipkin, IMA J. Appl. Math. 36, 1986, from memory).
    """
    along, across = stretches(points, ref).T
    return np.asarray(np.clip(1.0 - across * np.sqrt(np.maximum(along, 1.0)), 0.0, 1.0))


def find_webs(
    points: NDArray[np.float64],
    ref: Reference,
    *,
    turned: NDArray[np.bool_],
    platen_mm: float = 0.0,
    trim_mm: float | None = None,
    least_mm: float = 0.0,
) -> tuple[Web, ...]:
    """Group folded and slack triangles into webs.

    Parameters
    ----------
    points : (N, 3) float64, mm, the formed sheet
    ref : the stress-free sheet
    turned : (T,) bool, triangles that turned over on the way
    platen_mm : height of the platen
    trim_mm : height of the trim line over the same zero as the points
    least_mm : shorter ones are left out

    Returns
    -------
    tuple of Web : largest folded area first

    Notes
    -----
    The buck has no overhangs as the sheet sees it, so a face of the sheet that looks down lies in a fold:
    three layers, one above the other. Webs are the connected groups that hold at least four such triangles
    and one that is slack by a tenth. Measured: the four corners of a steep box and the valley between two
    close towers, growing with the height, shrinking with the draft, none at 20 degrees. Where they are and
    how they compare is stable; their area is not converged with the cell.
    """
    a, b, c = (points[ref.triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    over = normal[:, 2] < _LEANING * np.linalg.norm(normal, axis=1)
    slack = slack_share(points, ref)
    listed = np.flatnonzero(over | turned | (slack > _SLACK))
    if not len(listed):
        return ()
    corners = ref.triangles[listed].ravel()
    touches = sparse.csr_matrix(
        (np.ones(len(corners)), (np.repeat(np.arange(len(listed)), 3), corners)),
        shape=(len(listed), len(points)),
    )
    count, label = connected_components(touches @ touches.T, directed=False)
    webs = []
    for number in range(count):
        members = listed[label == number]
        folded = members[over[members] | turned[members]]
        if len(folded) >= _LEAST_CELLS and slack[members].max() > _SLACK:
            webs.append(_web(points, ref, members, folded, platen_mm, trim_mm))
    webs = [web for web in webs if web.length_mm >= least_mm]
    return tuple(sorted(webs, key=lambda web: (-web.folded_area_mm2, web.where_mm)))


def _web(
    points: NDArray[np.float64],
    ref: Reference,
    members: NDArray[np.int64],
    folded: NDArray[np.int64],
    platen_mm: float,
    trim_mm: float | None,
) -> Web:
    nodes = points[np.unique(ref.triangles[members])]
    middle = points[ref.triangles[folded]].mean(1)
    top, low = nodes[np.argmax(nodes[:, 2])], nodes[np.argmin(nodes[:, 2])]
    flat = np.ptp(nodes[:, 2]) < 0.5 * np.ptp(nodes[:, :2], axis=0).max()
    if flat:  # a web that runs level, as between two towers: its ends are those of its longest extent in plan
        span = nodes[:, :2] - nodes[:, :2].mean(0)
        along = span @ np.linalg.svd(span, full_matrices=False)[2][0]
        top, low = nodes[np.argmax(along)], nodes[np.argmin(along)]
    height = float(nodes[:, 2].max()) - platen_mm
    return Web(
        where_mm=_plain(middle.mean(0)),
        ends_mm=(_plain(top), _plain(low)),
        length_mm=float(np.linalg.norm(top - low)),
        height_mm=height,
        folded_area_mm2=float(ref.area_mm2[folded].sum()),
        crosses_trim_line=None if trim_mm is None else bool(nodes[:, 2].max() > trim_mm),
    )


def _plain(point: NDArray[np.float64]) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return x, y, z
