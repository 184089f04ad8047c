"""The door: whatever comes in becomes something that the rooms behind it can trust.

Two steps, because the pull direction is found between them: `enter` cleans and orients a sculpt, which may
stay open; `solidify` closes it down to the floor of the pull frame and makes one solid surface of it. A sound
mesh passes both with the very same arrays.
"""

from dataclasses import dataclass, replace

import numpy as np
from manifold3d import Manifold

from buckwright.errors import MeshError
from buckwright.mesh import mending
from buckwright.mesh.adjacency import edge_table, shells
from buckwright.mesh.checking import MeshFacts, check_mesh, degenerate_faces
from buckwright.mesh.manifolds import to_manifold
from buckwright.mesh.mending import Done, Step
from buckwright.mesh.rebuilding import damaged_faces, rebuild
from buckwright.mesh.remesh import remesh
from buckwright.mesh.repair import Repair
from buckwright.mesh.triangles import Mesh

__all__ = ["MOVED_WARNING_MM", "Entered", "enter", "solidify"]

#: A repair that moves the surface farther than this is warned about (a requirement of this project).
MOVED_WARNING_MM = 0.2

#: A body thinner than this share of its size has no inside: at 100 mm that is a skin of 1e-7 mm.
_FLAT_SHARE = 1e-9

#: Less than this share of the surface lost in a remesh is not worth a warning. Judgement, no source.
_LOST_SHARE = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Entered:
    """A mesh that came through a step of the door.

    Attributes
    ----------
    mesh : the given object itself where nothing had to be done
    facts : what was found before any repair
    repairs : what was done, in order
    notes : what the user should know besides, in plain words
    solid : whether `mesh` is closed, outward, free of crossings and accepted by manifold3d
    body : `mesh` as a manifold3d solid where one was built, for reuse; else None
    """

    mesh: Mesh
    facts: MeshFacts
    repairs: tuple[Repair, ...]
    notes: tuple[str, ...]
    solid: bool
    body: Manifold | None = None

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the user should check, in plain words."""
        return tuple(repair.warning for repair in self.repairs if repair.warning) + self.notes

    def to_dict(self) -> dict[str, object]:
        """The entry `input.repairs` of report.json.

        Returns
        -------
        dict
        """
        return {
            "found": self.facts.to_dict(),
            "repairs": [repair.to_dict() for repair in self.repairs],
            "warnings": list(self.warnings),
            "solid": self.solid,
        }


def enter(mesh: Mesh, *, voxel_mm: float | None = None) -> Entered:
    """Clean and orient a sculpt; close its small holes and make it a solid where it has no open side.

    Parameters
    ----------
    mesh : mm, equal corners welded
    voxel_mm : spacing of the remesh, should one be needed; see `remesh.default_voxel_mm`

    Returns
    -------
    Entered
        `solid` is False for an open sculpt (a relief, a mask, a bust without a bottom): `solidify` closes it.

    Raises
    ------
    MeshError
        No faces, coordinates that are not finite, no area, no extent, or nothing enclosed.
    """
    _refuse_unusable(mesh)
    made: list[Manifold | None] = []  # most sculpts are sound, so their solid is made during the check
    facts = check_mesh(mesh, meanwhile=lambda: made.append(to_manifold(mesh)))
    log = _Log(mesh)
    if facts.clean:
        if facts.shells > 1:
            log.run("dust", mending.without_dust)
        body = made[0] if made and log.mesh is mesh else to_manifold(log.mesh)
        if body is not None:
            _refuse_flat(log.mesh)
            pieces = _loose_pieces(facts.shells if log.mesh is mesh else shells(log.mesh)[1])
            return Entered(log.mesh, facts, tuple(log.repairs), pieces, solid=True, body=body)
    open_or_torn = facts.boundary_loops > 0 or facts.nonmanifold_edges > 0
    if open_or_torn or facts.degenerate_faces or facts.duplicate_faces or facts.unreferenced_vertices:
        log.run("clean", mending.cleaned)
        log.run("weld", mending.welded)
    log.run("dust", mending.without_dust)
    if open_or_torn or facts.inverted_shells or log.mesh is not mesh:
        log.run("orient", mending.oriented)
        log.run("cap", mending.capped)
        _refuse_unusable(log.mesh)
        _refuse_loose(log.mesh)
    if (edge_table(log.mesh.faces).face_count == 1).any():
        return Entered(log.mesh, facts, tuple(log.repairs), tuple(log.notes), solid=False)
    return _solid(log, facts, voxel_mm)


def solidify(
    mesh: Mesh, *, floor_z: float, voxel_mm: float | None = None, known: Entered | None = None
) -> Entered:
    """Close an entered sculpt down to the floor and make it one solid surface.

    Parameters
    ----------
    mesh : from `enter`, moved into the pull frame (pull +Z), mm
    floor_z : height of the underside of open sculpts, mm; see `closing.close_down`
    voxel_mm : as for `enter`
    known : result of `enter`, when `mesh` is its mesh moved, turned or uniformly scaled; saves another check

    Returns
    -------
    Entered
        `solid` is True. The vertices and faces of an open sculpt come first and unchanged unless a repair
        says otherwise.

    Raises
    ------
    MeshError
        As for `enter`.
    """
    if known is not None and known.solid:
        return Entered(mesh, known.facts, (), (), solid=True)
    if known is None:
        _refuse_unusable(mesh)
    facts = check_mesh(mesh) if known is None else known.facts
    if known is None and facts.clean and to_manifold(mesh) is not None:
        _refuse_flat(mesh)
        return Entered(mesh, facts, (), _loose_pieces(facts.shells), solid=True)
    log = _Log(mesh)
    if known is None:
        _refuse_loose(mesh)
        log.run("orient", mending.oriented)
    log.run("close down", lambda part: mending.closed_down(part, floor_z))
    log.run("cap", mending.capped)
    log.run("clean", mending.cleaned)
    return _solid(log, facts, voxel_mm)


class _Log:
    """A mesh on its way through repairs, and what they did."""

    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh
        self.repairs: list[Repair] = []
        self.notes: list[str] = []
        self._asked = mesh
        self._sound = False  # only meshes found to have defects get here

    def run(self, method: str, step: Step) -> None:
        """Run one step; it counts as a repair if it returns words."""
        done = step(self.mesh)
        if done.words:
            self.add(method, done)

    def add(self, method: str, done: Done) -> None:
        """Take over what a step made, with a warning where it moved the surface too far."""
        before, after = self.mesh.face_count, done.mesh.face_count
        repair = Repair(
            method, done.words, done.moved_mm, before, after, done.moved_rms_mm, done.warning, done.at_mm
        )
        if repair.moved_mm > MOVED_WARNING_MM and not repair.warning:
            repair = replace(repair, warning=_moved_far(repair))
        self.repairs.append(repair)
        self.mesh = done.mesh

    def sound(self) -> bool:
        """Whether the mesh is a solid as it is; checked once for each mesh."""
        if self._asked is not self.mesh:
            self._asked = self.mesh
            self._sound = check_mesh(self.mesh).clean and to_manifold(self.mesh) is not None
        return self._sound


def _moved_far(repair: Repair) -> str:
    return (
        f"The repair '{repair.method}' moved the surface by up to {repair.moved_mm:.2g} mm "
        f"({repair.moved_rms_mm:.2g} mm RMS); check the fine detail, or repair the sculpt and run again."
    )


def _refuse_unusable(mesh: Mesh) -> None:
    """Refuse what no repair can make into a solid."""
    if not mesh.face_count:
        raise MeshError("the sculpt has no triangles; export it again as a mesh")
    infinite = ~np.isfinite(mesh.vertices).all(axis=1)
    # few sculpts have one, and looking them up face by face takes long
    if infinite.any() and (bad := infinite[mesh.faces].any(axis=1)).any():
        raise MeshError(
            f"{int(bad.sum())} faces have coordinates that are not finite numbers (nan or infinity), "
            f"first at face {int(bad.argmax())}; delete them and export again"
        )
    if degenerate_faces(mesh).all():
        raise MeshError("no triangle of the sculpt has any area; check the scale and export it again")
    if mesh.face_count < 2:
        raise MeshError("the sculpt is a single triangle; a buck needs a surface with some shape")


def _refuse_loose(mesh: Mesh) -> None:
    """Refuse triangles that do not make a surface."""
    loose = shells(mesh)[1]
    if loose > max(2, mesh.face_count // 2):
        raise MeshError(
            f"the sculpt is {loose} loose triangles or pairs that do not meet at their edges; "
            "join them (weld or merge by distance) in your sculpting program"
        )


def _refuse_flat(mesh: Mesh) -> None:
    """Refuse closed surfaces without an inside."""
    area = float(mesh.areas().sum())
    if abs(mesh.volume_mm3()) <= _FLAT_SHARE * area * float(mesh.size.max()):
        raise MeshError(
            "the sculpt is closed but has no volume (a sheet folded onto itself); give it some thickness"
        )


def _loose_pieces(count: int) -> tuple[str, ...]:
    if count < 2:
        return ()
    return (f"The sculpt consists of {count} separate bodies; the base has to hold them together.",)


def _solid(log: _Log, facts: MeshFacts, voxel_mm: float | None) -> Entered:
    """Unite overlapping shells, cut crossings; make anew what is still damaged, and only then the whole."""
    log.run("fill cavities", mending.without_cavities)
    if not log.sound():
        log.run("unite", mending.united_shells)
    if not log.sound():
        _try(log, "unite", mending.resolved)
    if not log.sound():
        _try(log, "rebuild", lambda mesh: _rebuilt(_less_damaged(mesh), voxel_mm))
    if not log.sound():
        _remeshed(log, voxel_mm)
    if not log.sound():
        raise MeshError(
            "no solid could be made of the sculpt, even by remeshing; "
            "repair it in your sculpting program (make it manifold, remove inner faces)"
        )
    if {"unite", "rebuild", "remesh"} & {repair.method for repair in log.repairs}:
        log.run("dust", mending.without_dust)  # crumbs of the cut
    _refuse_flat(log.mesh)
    pieces = _loose_pieces(shells(log.mesh)[1])
    return Entered(log.mesh, facts, tuple(log.repairs), tuple(log.notes) + pieces, solid=True)


def _try(log: _Log, method: str, step: Step) -> None:
    """Run a step that may lead to a solid; undone where it does not."""
    mesh, done = log.mesh, len(log.repairs)
    log.run(method, step)
    log.run("fill cavities", mending.without_cavities)
    if not log.sound():
        log.mesh = mesh
        del log.repairs[done:]


def _less_damaged(mesh: Mesh) -> Mesh:
    """Cut along its crossings, where that leaves fewer damaged faces."""
    cut = mending.resolved(mesh).mesh
    return cut if damaged_faces(cut).sum() < damaged_faces(mesh).sum() else mesh


def _rebuilt(mesh: Mesh, voxel_mm: float | None) -> Done:
    """The damaged places made anew, the rest as it was."""
    made = rebuild(mesh, voxel_mm=voxel_mm)
    if made is None:
        return Done(mesh)
    x, y, z = made.at_mm.tolist()
    size = " x ".join(f"{side:.3g}" for side in np.ptp(made.boxes, axis=1).max(axis=0))
    count = len(made.boxes)
    places = f"a damaged place of {size} mm" if count == 1 else f"{count} damaged places of up to {size} mm"
    words = (
        f"Made {places} anew ({made.area_share:.2g} of the surface, on a grid of {made.voxel_mm:.2g} mm) and "
        f"left the rest as it was; there the surface moved by {made.moved_rms_mm:.2g} mm RMS, "
        f"{made.moved_mm:.2g} mm at most."
    )
    warning = (
        f"Detail may be lost where the surface was made anew: it moved by {made.moved_mm:.2g} mm at most."
    )
    return Done(made.mesh, words, made.moved_mm, made.moved_rms_mm, warning, (x, y, z))


def _remeshed(log: _Log, voxel_mm: float | None) -> None:
    """The last resort."""
    result = remesh(log.mesh, voxel_mm=voxel_mm)
    words = (
        f"Remeshed at {result.voxel_mm:.3g} mm, as the outside of the whole sculpt; "
        f"the surface moved by {result.moved_rms_mm:.2g} mm RMS, {result.moved_mm:.2g} mm at most."
    )
    if result.lost_share > _LOST_SHARE:
        log.notes.append(
            f"About {result.lost_share:.0%} of the surface has no thickness and was left out; "
            "thicken it in your sculpting program."
        )
    log.add("remesh", Done(result.mesh, words, result.moved_mm, result.moved_rms_mm))
    log.run("fill cavities", mending.without_cavities)
