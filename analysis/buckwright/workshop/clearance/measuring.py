"""The clearance of a formed part: its surface towards the body, and how far each place of it stays off."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from manifold3d import CrossSection, FillRule, JoinType
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph

from buckwright.mesh.gaps import gaps_to
from buckwright.mesh.splitting import cut_faces
from buckwright.mesh.triangles import Mesh
from buckwright.workshop.machine.platen import in_outlines

__all__ = ["Clearance", "NearPlace", "Side", "buck_side", "cavity_side", "measure_clearance", "moved"]

_SHORT_MM = 0.02  # what lacks less is not short: judgement
# Faces are cut to this share of the side of a square as large as the surface.
_SAMPLES = 75
_FINEST_MM = 0.5
_UPWARDS = 1e-6
# What lies no higher than this over the level trim line lies at it.
_AT_LINE_MM = 0.1

type Side = Literal["inside", "outside"]


@dataclass(frozen=True, slots=True)
class NearPlace:
    """A connected place where the clearance is less than wanted.

    Attributes
    ----------
    at_mm : where it is least, in the buck's frame
    least_mm : clearance there; below zero the part presses into the padding or the body
    area_mm2 : of the place
    """

    at_mm: tuple[float, float, float]
    least_mm: float
    area_mm2: float

    @property
    def touches(self) -> bool:
        """Whether no room is left."""
        return self.least_mm <= 0.0

    def to_dict(self) -> dict[str, Any]:
        """The entry of the report."""
        return {"at_mm": list(self.at_mm), "least_mm": self.least_mm, "area_mm2": self.area_mm2}


@dataclass(frozen=True, slots=True, eq=False)
class Clearance:
    """What room is left between a part and a body.

    Attributes
    ----------
    surface : of the part, towards the body, from the trim line up, in the buck's frame, mm
    clearance_mm : (V,) at its vertices, in the size of the part when it has shrunk, less the padding
    part : (V,) bool, what lies above the trim line, which may follow the body
    body : in the buck's frame, mm
    side : on which side of the part the body lies
    source : 'forecast' where the sheet is known, else 'buck'
    padding_mm, wanted_mm : as asked
    least_mm, least_at_mm : where the clearance is least
    mean_mm : over the area
    short_share, touch_share : of the area, with less clearance than wanted, and with none
    places : where it is less than wanted, the nearest first
    """

    surface: Mesh
    clearance_mm: NDArray[np.float64]
    part: NDArray[np.bool_]
    body: Mesh
    side: Side
    source: Literal["forecast", "buck"]
    padding_mm: float
    wanted_mm: float
    least_mm: float
    least_at_mm: tuple[float, float, float]
    mean_mm: float
    short_share: float
    touch_share: float
    places: tuple[NearPlace, ...]

    def to_dict(self) -> dict[str, Any]:
        """The section `clearance` of the report."""
        return {
            "side": self.side,
            "from": self.source,
            "padding_mm": self.padding_mm,
            "wanted_mm": self.wanted_mm,
            "least_mm": self.least_mm,
            "least_at_mm": list(self.least_at_mm),
            "mean_mm": self.mean_mm,
            "short_share": self.short_share,
            "touch_share": self.touch_share,
            "places": [place.to_dict() for place in self.places],
        }


def buck_side(buck: Mesh, trim_mm: float) -> Mesh:
    """The surface of a buck that the sheet lies on from the trim line up, in small faces.

    Parameters
    ----------
    buck : standing on z = 0, mm
    trim_mm : height of the trim line
    """
    high = buck.vertices[buck.faces][:, :, 2].max(axis=1, initial=0.0) > trim_mm
    normals = buck.area_vectors()
    areas = np.linalg.norm(normals, axis=1)
    up = normals[:, 2] > -_UPWARDS * areas
    fine = max(float(np.sqrt(areas[high & up].sum())) / _SAMPLES, _FINEST_MM)
    cut, source = cut_faces(buck, high & up, over_mm=fine)
    return _only(cut, (high & up)[source])


def cavity_side(mould: Mesh, rim: Sequence[NDArray[np.float64]], trim_mm: float) -> Mesh:
    """The surface of a female mould that the sheet lies on up to the trim line, in small faces.

    Parameters
    ----------
    mould : standing on z = 0, its cavity up, mm
    rim : outlines (M, 2) of the cavity at its trim line
    trim_mm : height of the trim line
    """
    areas = mould.areas()
    up = mould.area_vectors()[:, 2] > _UPWARDS * areas
    low = up & (mould.vertices[mould.faces][:, :, 2].min(axis=1, initial=np.inf) < trim_mm)
    fine = max(float(np.sqrt(areas[low].sum())) / _SAMPLES, _FINEST_MM)
    cut, source = cut_faces(mould, low, over_mm=fine)
    return _only(cut, low[source] & in_cavity(cut, rim, trim_mm))


def in_cavity(sheet: Mesh, rim: Sequence[NDArray[np.float64]], trim_mm: float) -> NDArray[np.bool_]:
    """Faces (F,) of a sheet that lie within a cavity and reach below its trim line.

    Parameters
    ----------
    sheet, rim, trim_mm : as `cavity_side`
    """
    inside = CrossSection([np.asarray(ring) for ring in rim], FillRule.EvenOdd).offset(
        _AT_LINE_MM, JoinType.Round
    )
    rings = [np.asarray(ring) for ring in inside.to_polygons()]
    held = in_outlines(sheet.centroids()[:, :2], rings)
    found: NDArray[np.bool_] = held & (sheet.vertices[sheet.faces][:, :, 2].min(axis=1) < trim_mm)
    return found


def moved(cleared: Clearance, matrix: NDArray[np.float64]) -> Clearance:
    """The same in another frame.

    Parameters
    ----------
    cleared : as measured
    matrix : (4, 4) rotation and shift into that frame
    """

    def place(at: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = (float(value) for value in matrix[:3, :3] @ np.array(at) + matrix[:3, 3])
        return x, y, z

    return replace(
        cleared,
        surface=cleared.surface.transformed(matrix),
        body=cleared.body.transformed(matrix),
        least_at_mm=place(cleared.least_at_mm),
        places=tuple(replace(one, at_mm=place(one.at_mm)) for one in cleared.places),
    )


def measure_clearance(
    sheet: Mesh,
    thickness_mm: NDArray[np.float64],
    body: Mesh,
    *,
    buck: Mesh,
    closed: bool,
    trim_mm: float,
    side: Side,
    source: Literal["forecast", "buck"],
    padding_mm: float,
    wanted_mm: float,
    edge_mm: float | None = None,
    true: float,
    between: bool | None = None,
) -> Clearance | None:
    """Measure how far a part stays off a body.

    Parameters
    ----------
    sheet : the side of the formed sheet that lies on the buck, wound upwards, mm
    thickness_mm : (V,) at its vertices
    body : in the same frame, mm
    buck : that the sheet was formed over
    closed : whether it encloses a volume
    trim_mm : height of the trim line; what lies lower is cut off
    side : 'inside' measures from the sheet's side on the buck, 'outside' from its other side
    source : where the sheet is from
    padding_mm, wanted_mm : thickness on the body, clearance that is wanted; of the part as it has shrunk
    edge_mm : where the trim line follows the body, clearance down to which it cuts; None where it is level
    true : size of the part over that of the buck
    between : whether the sheet lies between form and body; None: as on a buck

    Returns
    -------
    Clearance or None : None where nothing of the sheet rises over the trim line

    Notes
    -----
    From each vertex of the sheet to the nearest place of the body, signed; and where nothing touches, from
    each vertex of the body to the nearest place of the sheet, so that a spike between vertices of the sheet
    counts. A sheet cuts through what bulges between its vertices, but lies nowhere inside the buck: the
    farther of both counts there. Exact up to two edges that pass crosswise: then too large by less than the
    square of a cell over eight times the gap.
    """
    near = sheet.vertices[sheet.faces][:, :, 2].max(axis=1, initial=trim_mm) > trim_mm
    if not near.any():
        return None
    surface, used = _kept(sheet, near)
    thick = thickness_mm[used]
    through = side == "outside" if between is None else between
    if through:
        surface = Mesh(surface.vertices + thick[:, None] * _normals(surface), surface.faces)
    # the wrong side of an open skin around the part is the one that looks away from it
    way = -1.0 if side == "outside" and not closed else 1.0
    gaps = true * way * gaps_to(surface.vertices, body) - padding_mm
    part = surface.vertices[:, 2] >= trim_mm
    cut = ~part
    if edge_mm is not None:
        cut |= _cut_off(surface, gaps < edge_mm, trim_mm)
        part = ~cut
        if not part.any():
            return None
    at = int(np.argmin(np.where(part, gaps, np.inf)))
    least, where = float(gaps[at]), surface.vertices[at]
    if least > 0.0:
        kept = surface if edge_mm is None else _only(surface, part[surface.faces].all(axis=1))
        back, place = _from_body(body, kept, None if through else buck, trim_mm, (least + padding_mm) / true)
        if true * back - padding_mm < least:
            least, where = true * back - padding_mm, place
    areas = surface.areas()
    whole = part[surface.faces].all(axis=1)
    total = max(float(areas[whole].sum()), 1e-12)
    of_face = gaps[surface.faces].mean(axis=1)
    short = part & (gaps < wanted_mm - _SHORT_MM)
    at_edge = np.zeros(len(part), np.bool_) if edge_mm is None else cut
    places = _places(surface, gaps, areas, short, at_edge)
    if not places and edge_mm is None and least < wanted_mm - _SHORT_MM:
        places = (NearPlace(tuple(where.tolist()), least, 0.0),)  # a spike between vertices of the sheet
    return Clearance(
        surface,
        gaps,
        part,
        body,
        side,
        source,
        padding_mm,
        wanted_mm,
        least,
        (float(where[0]), float(where[1]), float(where[2])),
        float((areas * of_face)[whole].sum() / total),
        float(areas[whole & (of_face < wanted_mm - _SHORT_MM)].sum() / total),
        float(areas[whole & (of_face <= 0.0)].sum() / total),
        places,
    )


def _only(mesh: Mesh, faces: NDArray[np.bool_]) -> Mesh:
    return _kept(mesh, faces)[0]


def _kept(mesh: Mesh, faces: NDArray[np.bool_]) -> tuple[Mesh, NDArray[np.int64]]:
    """Some faces with their vertices, and which vertices those were."""
    used, again = np.unique(mesh.faces[faces], return_inverse=True)
    return Mesh(mesh.vertices[used], again.reshape(-1, 3).astype(np.int32)), used.astype(np.int64)


def _normals(mesh: Mesh) -> NDArray[np.float64]:
    """Unit normals (V, 3) at vertices."""
    sums = np.zeros((mesh.vertex_count, 3))
    of_face = mesh.area_vectors()
    for k in range(3):
        np.add.at(sums, mesh.faces[:, k], of_face)
    normals: NDArray[np.float64] = sums / np.maximum(np.linalg.norm(sums, axis=1), 1e-30)[:, None]
    return normals


def _from_body(
    body: Mesh, surface: Mesh, buck: Mesh | None, trim_mm: float, most_mm: float
) -> tuple[float, NDArray[np.float64]]:
    """Least distance of the body's vertices over the trim line from the surface, and where on it."""
    far, places = _nearest(body.vertices[body.vertices[:, 2] >= trim_mm], surface)
    # the part ends at the trim line: what is nearest below it is cut off
    kept = (far < most_mm) & (places[:, 2] >= trim_mm)
    if not kept.any():
        return np.inf, np.zeros(3)
    asked, far, places = body.vertices[body.vertices[:, 2] >= trim_mm][kept], far[kept], places[kept]
    if buck is not None:
        far = np.maximum(far, _nearest(asked, buck)[0])
    at = int(np.argmin(far))
    return float(far[at]), places[at]


def _nearest(points: NDArray[np.float64], mesh: Mesh) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distance (N,) of points from a mesh, and the nearest places on it."""
    import igl

    if not len(points) or not mesh.face_count:
        return np.full(len(points), np.inf), np.zeros((len(points), 3))
    squared, _, places = igl.point_mesh_squared_distance(
        np.ascontiguousarray(points), mesh.vertices, mesh.faces.astype(np.int64)
    )
    return np.sqrt(np.asarray(squared, np.float64).ravel()), np.asarray(places, np.float64)


def _cut_off(surface: Mesh, near: NDArray[np.bool_], trim_mm: float) -> NDArray[np.bool_]:
    """Vertices that are too near, or below the level line, and joined to it by others of that kind."""
    low = surface.vertices[:, 2] <= trim_mm + _AT_LINE_MM
    label = _joined(surface, near | low)
    begun = np.unique(label[low])
    cut: NDArray[np.bool_] = (near | low) & np.isin(label, begun)
    return cut & (near | (surface.vertices[:, 2] < trim_mm))


def _joined(surface: Mesh, chosen: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Number (V,) of the connected set of chosen vertices that each is in; others are alone."""
    count = surface.vertex_count
    sides = np.concatenate([surface.faces[:, [k, (k + 1) % 3]] for k in range(3)])
    sides = sides[chosen[sides].all(axis=1)]
    graph = sparse.coo_array((np.ones(len(sides)), (sides[:, 0], sides[:, 1])), shape=(count, count))
    label: NDArray[np.int32] = csgraph.connected_components(graph, directed=False)[1]
    return label


def _places(
    surface: Mesh,
    gaps: NDArray[np.float64],
    areas: NDArray[np.float64],
    near: NDArray[np.bool_],
    cut: NDArray[np.bool_],
) -> tuple[NearPlace, ...]:
    """Connected places of vertices that are too near; an edge that was cut to be near is none."""
    if not near.any():
        return ()
    label, share = _joined(surface, near | cut), np.zeros(surface.vertex_count)
    for k in range(3):
        np.add.at(share, surface.faces[:, k], areas / 3.0)
    found = []
    for number in np.setdiff1d(label[near], label[cut]):
        members = np.flatnonzero((label == number) & near)
        at = members[int(np.argmin(gaps[members]))]
        x, y, z = (float(v) for v in surface.vertices[at])
        found.append(NearPlace((x, y, z), float(gaps[at]), float(share[members].sum())))
    return tuple(sorted(found, key=lambda place: place.least_mm))
