"""The part of a buck's surface that the formed sheet lies on, with the sheet's values, to be shown."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.result import Forecast
from buckwright.mesh.splitting import cut_faces
from buckwright.mesh.triangles import Mesh

__all__ = ["NEAR_CELLS", "Coat", "coat_of"]

#: Within so many cells of the sheet a place lies under it: it cuts edges by up to half of one, corners more.
NEAR_CELLS = 1.0
#: Sides of a face are cut down to so many usual cells: a foot of few large faces then shows what lies on it.
_CUT_CELLS = 1.5
#: What lies no higher is the underside, mm.
_UNDERSIDE_MM = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Coat:
    """The surface of a buck under the sheet: sculpt, fill, wall and foot.

    Attributes
    ----------
    mesh : part of the buck's surface, large faces cut; in the buck's frame, mm
    thickness_mm : (V,) float64, of the sheet over its vertices
    order : (V,) float64, order of contact there, 0 first to 1 last
    """

    mesh: Mesh
    thickness_mm: NDArray[np.float64]
    order: NDArray[np.float64]


def coat_of(buck: Mesh, run: Forecast) -> Coat:
    """The surface of a buck that a formed sheet lies on.

    Parameters
    ----------
    buck : the buck that the sheet was formed over; platen z = 0, mm
    run : the forecast

    Returns
    -------
    Coat : of no faces where the sheet lies nowhere
    """
    cell = float(np.median(run.cells_mm[run.on_buck])) if run.on_buck.any() else run.settings.cell_mm
    above = buck.vertices[buck.faces][:, :, 2].max(axis=1, initial=0.0) > _UNDERSIDE_MM
    cut, source = cut_faces(buck, above, over_mm=_CUT_CELLS * cell)
    used, faces = np.unique(cut.faces[above[source]], return_inverse=True)
    vertices = cut.vertices[used]
    thick, order, off = run.at(vertices)
    faces = faces.reshape(-1, 3)
    near = (off <= NEAR_CELLS * run.cells_at(vertices))[faces].all(axis=1)
    kept, faces = np.unique(faces[near], return_inverse=True)
    mesh = Mesh(vertices[kept], faces.reshape(-1, 3).astype(np.int32))
    return Coat(mesh, thick[kept], order[kept])
