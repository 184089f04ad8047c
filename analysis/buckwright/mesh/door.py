"""The door: whatever comes in becomes something that the rooms behind it can trust.

Two steps, because the pull direction is found between them: `enter` cleans and orients a sculpt, which may
stay open; `solidify` closes it down to the floor of the pull frame and makes one solid surface of it. A sound
mesh passes both with the very same arrays.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold

from buckwright.errors import MeshError
from buckwright.mesh.adjacency import edge_table, shells
from buckwright.mesh.checking import CROSSING_DEPTH_MM, MeshFacts, check_mesh, degenerate_faces
from buckwright.mesh.closing import close_down
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.holes import cap_loops, small_holes
from buckwright.mesh.manifolds import to_manifold
from buckwright.mesh.orienting import consistent, outward
from buckwright.mesh.remesh import remesh
from buckwright.mesh.repair import Repair, drop_unused, single_faces, without_fins, without_flat_faces
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.uniting import resolve_crossings, unite_shells, without_nested_shells
from buckwright.mesh.welding import weld_near

__all__ = ["MOVED_WARNING_MM", "Entered", "enter", "solidify"]

#: A repair that moves the surface farther than this is warned about (a requirement of this project).
MOVED_WARNING_MM = 0.2

#: Corners closer than this share of the size are joined where the surface is open: text formats are
#: commonly written with six significant digits.
_WELD_SHARE = 1e-6

#: A body thinner than this share of its size has no inside: at 100 mm that is a skin of 1e-7 mm.
_FLAT_SHARE = 1e-9

#: Less than this share of the surface lost in a remesh is not worth a warning. Judgement, no source.
_LOST_SHARE = 0.005

Step = Callable[[Mesh], tuple[Mesh, str, float]]


@dataclass(frozen=True, slots=True, eq=False)
class Entered:
    """A mesh that came through a step of the door.

    Attributes
    ----------
    mesh : the given object itself where nothing had to be done
    facts : what was found before any repair
    repairs : what was done, in order
    warnings : what the user should check, in plain words
    solid : whether `mesh` is closed, outward, free of crossings and accepted by manifold3d
    body : `mesh` as a manifold3d solid where one was built, for reuse; else None
    """

    mesh: Mesh
    facts: MeshFacts
    repairs: tuple[Repair, ...]
    warnings: tuple[str, ...]
    solid: bool
    body: Manifold | None = None

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
    facts = check_mesh(mesh)
    body = to_manifold(mesh) if facts.clean else None
    if body is not None:
        _refuse_flat(mesh)
        return Entered(mesh, facts, (), _loose_pieces(facts.shells), solid=True, body=body)
    log = _Log(mesh)
    open_or_torn = facts.boundary_loops > 0 or facts.nonmanifold_edges > 0
    if open_or_torn or facts.degenerate_faces or facts.duplicate_faces or facts.unreferenced_vertices:
        log.run("clean", _cleaned)
        log.run("weld", _welded)
    if open_or_torn or facts.inverted_shells or log.mesh is not mesh:
        log.run("orient", _oriented)
        log.run("cap", _capped)
        _refuse_unusable(log.mesh)
        _refuse_loose(log.mesh)
    if (edge_table(log.mesh.faces).face_count == 1).any():
        return Entered(log.mesh, facts, tuple(log.repairs), log.warnings(), solid=False)
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
        log.run("orient", _oriented)
    log.run("close down", lambda part: _closed_down(part, floor_z))
    log.run("cap", _capped)
    log.run("clean", _cleaned)
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
        mesh, words, moved = step(self.mesh)
        if words:
            self.add(Repair(method, words, moved, self.mesh.face_count, mesh.face_count), mesh)

    def add(self, repair: Repair, mesh: Mesh) -> None:
        self.repairs.append(repair)
        self.mesh = mesh

    def sound(self) -> bool:
        """Whether the mesh is a solid as it is; checked once for each mesh."""
        if self._asked is not self.mesh:
            self._asked = self.mesh
            self._sound = check_mesh(self.mesh).clean and to_manifold(self.mesh) is not None
        return self._sound

    def warnings(self) -> tuple[str, ...]:
        """Repairs that moved the surface too far, and what else was noted."""
        far = [repair for repair in self.repairs if repair.moved_mm > MOVED_WARNING_MM]
        return tuple(
            f"The repair '{repair.method}' moved the surface by up to {repair.moved_mm:.2g} mm "
            f"({repair.moved_rms_mm:.2g} mm RMS); check the fine detail, or repair the sculpt and run again."
            for repair in far
        ) + tuple(self.notes)


def _refuse_unusable(mesh: Mesh) -> None:
    """Refuse what no repair can make into a solid."""
    if not mesh.face_count:
        raise MeshError("the sculpt has no triangles; export it again as a mesh")
    bad = ~np.isfinite(mesh.vertices[mesh.faces]).all(axis=(1, 2))
    if bad.any():
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
    area = float(np.linalg.norm(mesh.area_vectors(), axis=1).sum())
    if abs(mesh.volume_mm3()) <= _FLAT_SHARE * area * float(mesh.size.max()):
        raise MeshError(
            "the sculpt is closed but has no volume (a sheet folded onto itself); give it some thickness"
        )


def _loose_pieces(count: int) -> tuple[str, ...]:
    if count < 2:
        return ()
    return (f"The sculpt consists of {count} separate bodies; the base has to hold them together.",)


def _cleaned(mesh: Mesh) -> tuple[Mesh, str, float]:
    """Without flat and duplicate faces and stray vertices."""
    flat = without_flat_faces(mesh)
    single = single_faces(flat)
    clean = drop_unused(without_fins(single))
    words = []
    gone = int(degenerate_faces(mesh).sum())
    if gone:
        words.append(f"removed {_counted(gone, 'face')} without area")
    if single.face_count < flat.face_count:
        words.append(f"removed {_counted(flat.face_count - single.face_count, 'doubled face')}")
    if clean.face_count < single.face_count:
        words.append(
            f"removed {_counted(single.face_count - clean.face_count, 'face')} of fins without thickness"
        )
    if clean.vertex_count < mesh.vertex_count:
        words.append(f"removed {_counted(mesh.vertex_count - clean.vertex_count, 'unused point')}")
    return clean, _sentence(words), 0.0


def _welded(mesh: Mesh) -> tuple[Mesh, str, float]:
    """With near corners joined, where that closes open edges."""
    opened = int((edge_table(mesh.faces).face_count == 1).sum())
    if not opened:
        return mesh, "", 0.0
    joined, moved = weld_near(mesh, tolerance_mm=_WELD_SHARE * float(np.linalg.norm(mesh.size)))
    if joined is mesh:
        return mesh, "", 0.0
    joined = drop_unused(single_faces(without_flat_faces(joined)))
    left = int((edge_table(joined.faces).face_count == 1).sum())
    if left >= opened:
        return mesh, "", 0.0
    gone = mesh.vertex_count - joined.vertex_count
    return joined, _sentence([f"joined {_counted(gone, 'corner')} to another within {moved:.2g} mm"]), moved


def _oriented(mesh: Mesh) -> tuple[Mesh, str, float]:
    """With neighbours that agree and shells that face outward."""
    agreed, turned, torn = consistent(mesh)
    facing, shells_turned = outward(agreed)
    words = []
    if turned:
        words.append(f"turned {_counted(turned, 'face')} that faced against their neighbours")
    if shells_turned:
        words.append(f"turned {_counted(shells_turned, 'inside-out shell')}")
    if torn:
        words.append(f"found {_counted(torn, 'edge')} where no orientation agrees (a one-sided surface)")
    return facing, _sentence(words), 0.0


def _capped(mesh: Mesh) -> tuple[Mesh, str, float]:
    """With flat caps over small holes."""
    loops = small_holes(mesh)
    if not loops:
        return mesh, "", 0.0
    widest = max(float(np.ptp(mesh.vertices[loop], axis=0).max()) for loop in loops)
    capped = drop_unused(single_faces(without_flat_faces(cap_loops(mesh, loops))))
    count = _counted(len(loops), "hole")
    return capped, _sentence([f"closed {count} with a flat cap, the widest {widest:.2g} mm across"]), 0.0


def _closed_down(mesh: Mesh, floor_z: float) -> tuple[Mesh, str, float]:
    """With walls from the open sides to the floor."""
    closing = close_down(mesh, floor_z=floor_z)
    words = []
    if closing.rims:
        words.append(f"closed the open side straight down to z = {closing.floor_mm:.4g} mm")
    if closing.holes:
        words.append(f"closed {_counted(closing.holes, 'opening')} facing up or sideways with a flat cap")
    return closing.mesh, _sentence(words), 0.0


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _sentence(words: list[str]) -> str:
    text = ", ".join(words)
    return text[:1].upper() + text[1:] + "." if text else ""


def _solid(log: _Log, facts: MeshFacts, voxel_mm: float | None) -> Entered:
    """Unite overlapping shells; remesh what is still not a solid."""
    log.run("fill cavities", _without_cavities)
    if not log.sound():
        log.run("unite", _united_shells)
    if not log.sound():
        _try_to_resolve(log)
    if not log.sound():
        _remeshed(log, voxel_mm)
    if not log.sound():
        raise MeshError(
            "no solid could be made of the sculpt, even by remeshing; "
            "repair it in your sculpting program (make it manifold, remove inner faces)"
        )
    _refuse_flat(log.mesh)
    pieces = _loose_pieces(shells(log.mesh)[1])
    return Entered(log.mesh, facts, tuple(log.repairs), log.warnings() + pieces, solid=True)


def _without_cavities(mesh: Mesh) -> tuple[Mesh, str, float]:
    """Without shells inside others."""
    table = edge_table(mesh.faces)
    if (table.face_count % 2).any() or shells(mesh, table=table)[1] < 2:
        return mesh, "", 0.0
    filled, gone = without_nested_shells(mesh)
    words = [f"filled {_counted(gone, 'inner shell')}: a buck is solid"] if gone else []
    return filled, _sentence(words), 0.0


def _united_shells(mesh: Mesh) -> tuple[Mesh, str, float]:
    """Shells that cross only each other, united by manifold3d."""
    labels, count = shells(mesh)
    if count < 2:
        return mesh, "", 0.0
    pairs = labels[find_crossings(mesh, deeper_than_mm=CROSSING_DEPTH_MM).pairs]
    if (pairs[:, 0] == pairs[:, 1]).any() or (edge_table(mesh.faces).face_count % 2).any():
        return mesh, "", 0.0
    united = unite_shells(mesh)
    if united is None:
        return mesh, "", 0.0
    left = shells(united)[1]
    return _cleaned(united)[0], _sentence([f"united {count} overlapping shells into {left}"]), 0.0


def _try_to_resolve(log: _Log) -> None:
    """Cut the surface along its crossings; undone where that does not lead to a solid."""
    mesh, done = log.mesh, len(log.repairs)
    log.run("unite", _resolved)
    log.run("fill cavities", _without_cavities)
    if not log.sound():
        log.mesh = mesh
        del log.repairs[done:]


def _resolved(mesh: Mesh) -> tuple[Mesh, str, float]:
    """A surface that crosses itself, cut along its crossings."""
    if (edge_table(mesh.faces).face_count % 2).any():
        return mesh, "", 0.0
    solved = resolve_crossings(mesh)
    if solved is None or solved is mesh:
        return mesh, "", 0.0
    return solved, "Cut the surface where it touches or crosses itself, and kept the outside.", 0.0


def _remeshed(log: _Log, voxel_mm: float | None) -> None:
    """The last resort."""
    result = remesh(log.mesh, voxel_mm=voxel_mm)
    words = (
        f"Remeshed at {result.voxel_mm:.3g} mm, as the outside of the whole sculpt; "
        f"the surface moved by {result.moved_rms_mm:.2g} mm RMS, {result.moved_mm:.2g} mm at most."
    )
    before, after = log.mesh.face_count, result.mesh.face_count
    if result.lost_share > _LOST_SHARE:
        log.notes.append(
            f"About {result.lost_share:.0%} of the surface has no thickness and was left out; "
            "thicken it in your sculpting program."
        )
    log.add(Repair("remesh", words, result.moved_mm, before, after, result.moved_rms_mm), result.mesh)
    log.run("fill cavities", _without_cavities)
