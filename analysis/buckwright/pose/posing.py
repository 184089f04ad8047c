"""From the checked sculpt to a closed part that stands in the pull frame, its foot on z = 0."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.clock import Clock
from buckwright.errors import MeshError
from buckwright.findings import Finding
from buckwright.forming.sheets.table import SheetMaterial
from buckwright.mesh.door import Entered, solidify
from buckwright.mesh.level_cut import level_cut
from buckwright.mesh.reading import Sculpt
from buckwright.mesh.repair import Repair
from buckwright.mesh.triangles import Mesh
from buckwright.pose.aiming import Aim
from buckwright.pose.body.growing import Growth, grow
from buckwright.pose.body.placing import Room
from buckwright.pose.entering import EnteredSculpt
from buckwright.pose.mirroring import mirrored_frame
from buckwright.pose.settings import FitSettings
from buckwright.shape.offset.allowance import Offset, offset_inward, offset_outward, shrink_scale
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.shape.solid_arrays import Body, arrays_of
from buckwright.stand import Stand

__all__ = ["FOOT_MM", "Passage", "Posed", "mean_thickness_mm", "placed", "pose", "raised", "stood"]

# A sculpt that is widest at its foot gains nothing from being sunk; under 2 % it is noise of the slices.
_WIDER = 1.02
_SLICES = 48
# Sine of the lean that still counts as plumb: rounding only.
_PLUMB = 1e-6
FOOT_MM = 1e-4
"""What lies no higher than this is on the foot plane; storing in single precision moves it less."""


@dataclass(frozen=True, slots=True)
class Passage:
    """What a step of the door did, and what the user should look at."""

    repairs: tuple[Repair, ...]
    notes: tuple[str, ...]


def _passage(entry: Entered, frame: NDArray[np.float64]) -> Passage:
    """What a step did, its places moved to another frame."""
    return Passage(tuple(_placed(repair, frame) for repair in entry.repairs), entry.notes)


def _placed(repair: Repair, frame: NDArray[np.float64]) -> Repair:
    if repair.at_mm is None:
        return repair
    x, y, z = (frame[:3, :3] @ np.array(repair.at_mm) + frame[:3, 3]).tolist()
    return replace(repair, at_mm=(x, y, z))


@dataclass(frozen=True, slots=True, eq=False)
class Posed:
    """The sculpt in the pull frame.

    Attributes
    ----------
    sculpt : as it was read
    mesh : the part above the foot plane, standing on z = 0, mm
    body : the same as a solid
    matrix : (4, 4) from the file's coordinates to this frame
    scale : millimetres per unit of the file
    size : (3,) extent along the axes of the file, in its unit, without specks and stray points
    direction : (3,) pull in the file's coordinates
    sunk_mm : how much was cut off below
    sunk_mm3, sunk_share : volume that was cut off, and its share of the whole
    sunk_by_rule : whether the depth was left open
    widest_mm : height of the widest outline over the foot plane
    widest_saves_mm3 : room under the widest outline that sinking to it would not need to fill
    widest_cuts_mm3 : volume of the sculpt that sinking to it would cut off
    offset : what became of an offset for the sheet's thickness, if there was one
    shrinkage : the share by which the part was taken to shrink
    formed_thickness_mm : the thickness that the offset was made for; None without an offset
    growth : what became of growing to clearance, if it was asked for
    entries : what the door did
    findings : what the file and its size give to think about
    """

    sculpt: Sculpt
    mesh: Mesh
    body: Body
    matrix: NDArray[np.float64]
    scale: float
    size: NDArray[np.float64]
    direction: NDArray[np.float64]
    sunk_mm: float
    sunk_mm3: float
    sunk_share: float
    sunk_by_rule: bool
    widest_mm: float
    widest_saves_mm3: float
    widest_cuts_mm3: float
    offset: Offset | None
    shrinkage: float
    formed_thickness_mm: float | None
    growth: Growth | None
    entries: tuple[Passage, ...]
    findings: tuple[Finding, ...]

    def placed(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (N, 3) given in the sculpt's own coordinates, mm, in this frame."""
        return _placed_points(points_mm, self.matrix, self.scale)

    def input_dict(self) -> dict[str, Any]:
        """The section `input` of the report."""
        mesh = self.sculpt.mesh
        scale = float(np.cbrt(abs(np.linalg.det(self.matrix[:3, :3]))))
        repairs = [repair.to_dict() for entry in self.entries for repair in entry.repairs]
        return {
            "faces": mesh.face_count,
            "vertices": mesh.vertex_count,
            "size_mm": self.size * scale,
            "format": self.sculpt.format,
            "unit_in_file": self.sculpt.unit_in_file,
            "repairs": repairs,
        }


def pose(
    arrived: EnteredSculpt,
    aim: Aim,
    *,
    material: SheetMaterial,
    sheet_mm: float,
    sink_mm: float | str,
    fit: FitSettings,
    room: Room | None = None,
    clock: Clock,
    mirror: str = "none",
    form: str = "male",
) -> Posed:
    """Turn, mirror, scale, close, grow, cut and offset a sculpt.

    Parameters
    ----------
    arrived : the checked sculpt
    aim : the pull
    material, sheet_mm : the sheet, for shrinkage and formed thickness
    sink_mm : how much is cut off below, mm, 'widest' (to the widest outline), or 'auto' (as the aim says)
    fit : the side that holds its size, and allowances
    room : what a body asks of the shape, or None
    clock : steps are told to it
    mirror : axis of the sculpt across which it is mirrored, 'x', 'y' or 'z', or 'none'
    form : 'male', whose buck is offset inwards for the part's outside, or 'female', outwards for its inside

    Raises
    ------
    InputError
        The sculpt cannot be mirrored along its pull.
    MeshError
        The sculpt cannot be made into a solid, or sinking leaves nothing of it.
    Cancelled
        The user asked to stop.
    """
    entered, scale = arrived.entered, arrived.scale
    outside = fit.controlled_side == "outside"
    shrinkage = material.shrinkage.middle if fit.shrinkage is None else fit.shrinkage
    matrix = _turned(entered.mesh, mirrored_frame(aim.direction, mirror) * shrink_scale(shrinkage))
    with clock.step("making it solid"):
        moved = entered.mesh.transformed(matrix)
        closed = solidify(moved, floor_z=0.0, known=entered)
        solid = as_solid(closed.mesh) if entered.body is None else entered.body.transform(matrix[:3])
        sizing = np.diag([scale, scale, scale, 1.0])
        first = matrix @ sizing
        whole, solid, matrix = _grounded(closed.mesh, solid, first)
    with clock.step("finding the depth"):
        widest, saves, cuts = _widest(solid, float(whole.size[2]))
        sunk = _depth(aim, sink_mm, widest, shrink_scale(shrinkage))
        if room is not None and room.to_widest:
            sunk = _widest_of(placed(room.body, matrix, scale), float(whole.size[2]))
    growth = None
    if room is not None and room.grow != "off":
        with clock.step("growing to clearance"):
            # a cavity is made larger by the sheet after this, a buck smaller; a plain cavity holds it
            within = outside if form == "male" else fit.controlled_side != "inside"
            skin = (fit.formed_thickness_mm or mean_thickness_mm(whole, sheet_mm)) if within else 0.0
            growth = _grown(whole, placed(room.body, matrix, scale), room, sunk, skin, shrinkage, clock)
            whole, solid = growth.offset.mesh, as_solid(growth.offset.mesh)
    with clock.step("cutting the foot"):
        before = solid.volume()
        whole, solid, matrix = _cut(whole, solid, matrix, sunk)
        cut_off = max(before - solid.volume(), 0.0) if sunk > 0.0 else 0.0
    offset = thickness = None
    if fit.controlled_side == ("outside" if form == "male" else "inside"):
        offset_for = offset_inward if form == "male" else offset_outward
        with clock.step("offsetting for the sheet"):
            on_foot = (np.abs(whole.corners()[:, :, 2]) <= FOOT_MM).all(axis=1)
            thickness = fit.formed_thickness_mm or mean_thickness_mm(whole, sheet_mm)
            offset = offset_for(whole, thickness, still=on_foot, tick=clock.tick)
            whole, solid = offset.mesh, as_solid(offset.mesh)
    return Posed(
        sculpt=arrived.sculpt,
        mesh=whole,
        body=Body(arrays_of(solid)),
        matrix=matrix,
        scale=scale,
        size=arrived.size,
        direction=aim.direction,
        sunk_mm=sunk,
        sunk_mm3=cut_off,
        sunk_share=cut_off / before,
        sunk_by_rule=sink_mm == "auto",
        widest_mm=max(widest - sunk, 0.0),
        widest_saves_mm3=saves if sunk < widest else 0.0,
        widest_cuts_mm3=cuts if sunk < widest else 0.0,
        offset=offset,
        shrinkage=shrinkage,
        formed_thickness_mm=thickness,
        growth=growth,
        entries=(
            _passage(entered, matrix @ np.linalg.inv(sizing)),
            _passage(closed, matrix @ np.linalg.inv(first)),
        ),
        findings=arrived.findings,
    )


def _grown(
    whole: Mesh, body: Mesh, room: Room, sunk: float, skin_mm: float, shrinkage: float, clock: Clock
) -> Growth:
    """The part moved outwards before its foot is cut, so that it is cut clean; a flat foot stays."""
    heights = whole.corners()[:, :, 2]
    return grow(
        whole,
        body,
        room.room_mm * shrink_scale(shrinkage),
        skin_mm=skin_mm,
        all_round=room.grow == "all",
        still=(np.abs(heights) <= FOOT_MM).all(axis=1),
        above_mm=sunk,
        tick=clock.tick,
    )


def _placed_points(
    points_mm: NDArray[np.float64], matrix: NDArray[np.float64], scale: float
) -> NDArray[np.float64]:
    moved: NDArray[np.float64] = points_mm / scale @ matrix[:3, :3].T + matrix[:3, 3]
    return moved


def placed(mesh: Mesh, matrix: NDArray[np.float64], scale: float) -> Mesh:
    """A mesh in the sculpt's own coordinates, mm, in the pull frame; mirrored as the sculpt is.

    Parameters
    ----------
    mesh : mm
    matrix : (4, 4) from the coordinates of the sculpt's file to the frame
    scale : millimetres per unit of that file
    """
    mirrored = float(np.linalg.det(matrix[:3, :3])) < 0.0
    faces = np.ascontiguousarray(mesh.faces[:, ::-1]) if mirrored else mesh.faces
    return Mesh(_placed_points(mesh.vertices, matrix, scale), faces)


def _widest_of(body: Mesh, height: float) -> float:
    """Height at which a body is widest along the pull, seen over the height of the sculpt; 0 at its foot."""
    step = height / _SLICES
    levels = (np.arange(_SLICES) + 0.5) * step
    areas = _areas(body, levels)
    at = int(np.argmax(areas))
    if areas[at] < areas[0] * _WIDER:
        return 0.0
    near = np.linspace(levels[at] - step, levels[at] + step, _SLICES + 1)
    return float(np.clip(near[int(np.argmax(_areas(body, near)))], 0.0, height))


def _areas(body: Mesh, levels: NDArray[np.floating]) -> NDArray[np.float64]:
    """Areas of level sections of a surface, open or closed."""
    return np.array([sum(_area(ring) for ring in level_cut(body, float(z))) for z in levels])


def _area(ring: NDArray[np.float64]) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return abs(float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())) / 2.0


def _depth(aim: Aim, sink_mm: float | str, widest: float, scale: float) -> float:
    """How much is cut off, mm of the posed sculpt."""
    if sink_mm == "auto" and not isinstance(aim.sink_mm, str):
        return aim.sink_mm * scale
    return widest if isinstance(sink_mm, str) else float(sink_mm)


def mean_thickness_mm(part: Mesh, sheet_mm: float) -> float:
    """Mean thickness of the formed sheet by constant volume over the part's own footprint.

    Parameters
    ----------
    part : in the pull frame, mm; what faces down is not covered, plumb walls are
    sheet_mm : thickness before forming

    Returns
    -------
    float : mm
    """
    normals = part.area_vectors()
    areas = np.linalg.norm(normals, axis=1)
    up = normals[:, 2] > -_PLUMB * areas
    formed = float(areas[up].sum())
    plan = float(normals[up, 2].sum())
    return sheet_mm * min(plan / max(formed, 1e-12), 1.0)


def raised(mesh: Mesh, dz: float) -> Mesh:
    """The mesh moved along the pull."""
    return Mesh(mesh.vertices + np.array([0.0, 0.0, dz]), mesh.faces)


def stood(mesh: Mesh, stand: Stand) -> Mesh:
    """The mesh as it stands in the buck."""
    return mesh.transformed(stand.matrix()) if stand.over else raised(mesh, stand.lift_mm)


def _moved(matrix: NDArray[np.float64], dz: float) -> NDArray[np.float64]:
    moved = matrix.copy()
    moved[2, 3] += dz
    return moved


def _turned(mesh: Mesh, turn: NDArray[np.float64]) -> NDArray[np.float64]:
    """Matrix that turns the mesh, centres it over the origin and sets its lowest point on z = 0."""
    low, high = Mesh(mesh.vertices @ turn.T, mesh.faces).bounds
    matrix = np.eye(4)
    matrix[:3, :3] = turn
    matrix[:3, 3] = -np.array([(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0, low[2]])
    return matrix


def _grounded(
    mesh: Mesh, solid: Manifold, matrix: NDArray[np.float64]
) -> tuple[Mesh, Manifold, NDArray[np.float64]]:
    """Closing an open relief may reach below z = 0; set it back on the plane."""
    low = float(mesh.bounds[0, 2])
    if abs(low) < FOOT_MM:
        return mesh, solid, matrix
    return raised(mesh, -low), solid.translate((0.0, 0.0, -low)), _moved(matrix, -low)


def _widest(solid: Manifold, height: float) -> tuple[float, float, float]:
    """Height of the slice with the greatest area; under it, the room that is not sculpt and that which is."""
    heights = (np.arange(_SLICES) + 0.5) * (height / _SLICES)
    areas = np.array([solid.slice(float(z)).area() for z in heights])
    at = int(np.argmax(areas))
    if areas[at] < areas[0] * _WIDER:
        return 0.0, 0.0, 0.0
    below = float(areas[:at].sum() * height / _SLICES)
    return float(heights[at]), float(areas[at] * at * height / _SLICES) - below, below


def _cut(
    mesh: Mesh, solid: Manifold, matrix: NDArray[np.float64], sunk: float
) -> tuple[Mesh, Manifold, NDArray[np.float64]]:
    """Cut off what is to be sunk into the base, or grew below the foot, and stand the rest on z = 0."""
    if sunk <= 0.0 and float(mesh.bounds[0, 2]) >= -FOOT_MM:
        return mesh, solid, matrix
    if sunk >= float(mesh.size[2]):
        raise MeshError(
            f"sinking the sculpt by {sunk:g} mm leaves nothing of its {mesh.size[2]:.1f} mm; sink it less"
        )
    rest = solid.trim_by_plane((0.0, 0.0, 1.0), sunk).translate((0.0, 0.0, -sunk))
    return as_mesh(rest), rest, _moved(matrix, -sunk)
