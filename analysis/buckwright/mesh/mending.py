"""The steps by which the door mends a mesh; each says in plain words what it did, or nothing."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import edge_table, shells
from buckwright.mesh.checking import CROSSING_DEPTH_MM, degenerate_faces
from buckwright.mesh.closing import close_down
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.holes import cap_loops, small_holes
from buckwright.mesh.orienting import consistent, outward
from buckwright.mesh.repair import drop_unused, single_faces, without_fins, without_flat_faces
from buckwright.mesh.specks import without_specks
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.uniting import resolve_crossings, unite_shells, without_nested_shells
from buckwright.mesh.welding import weld_near

__all__ = [
    "CAP_WARNING_MM",
    "Done",
    "Step",
    "capped",
    "cleaned",
    "closed_down",
    "oriented",
    "resolved",
    "united_shells",
    "welded",
    "without_cavities",
    "without_dust",
]

#: A flat cap wider than this is new surface that the eye sees, and is warned about. House rule.
CAP_WARNING_MM = 5.0

#: Corners closer than this share of the size are joined where the surface is open: text formats are
#: commonly written with six significant digits.
_WELD_SHARE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Done:
    """What a step made of a mesh.

    Attributes
    ----------
    mesh : the result
    words : what was done; empty where nothing was, and then `mesh` is the one given
    moved_mm, moved_rms_mm, warning, at_mm : as in `repair.Repair`
    """

    mesh: Mesh
    words: str = ""
    moved_mm: float = 0.0
    moved_rms_mm: float = 0.0
    warning: str = ""
    at_mm: tuple[float, float, float] | None = None


Step = Callable[[Mesh], Done]


def cleaned(mesh: Mesh) -> Done:
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
    return Done(clean, _sentence(words))


def welded(mesh: Mesh) -> Done:
    """With near corners joined, where that closes open edges."""
    opened = int((edge_table(mesh.faces).face_count == 1).sum())
    if not opened:
        return Done(mesh)
    joined, moved = weld_near(mesh, tolerance_mm=_WELD_SHARE * float(np.linalg.norm(mesh.size)))
    if joined is mesh:
        return Done(mesh)
    joined = drop_unused(single_faces(without_flat_faces(joined)))
    left = int((edge_table(joined.faces).face_count == 1).sum())
    if left >= opened:
        return Done(mesh)
    gone = mesh.vertex_count - joined.vertex_count
    words = [f"joined {_counted(gone, 'corner')} to another within {moved:.2g} mm"]
    return Done(joined, _sentence(words), moved)


def without_dust(mesh: Mesh) -> Done:
    """Without specks that float beside the sculpt."""
    kept, closed, scraps = without_specks(mesh)
    words = []
    if closed:
        words.append(f"left out {_counted(closed, 'small loose body', 'small loose bodies')}")
    if scraps:
        words.append(f"left out {_counted(scraps, 'loose scrap')} of surface")
    return Done(kept, _sentence(words))


def oriented(mesh: Mesh) -> Done:
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
    return Done(facing, _sentence(words))


def capped(mesh: Mesh) -> Done:
    """With flat caps over small holes."""
    loops = small_holes(mesh)
    if not loops:
        return Done(mesh)
    closed = drop_unused(single_faces(without_flat_faces(cap_loops(mesh, loops))))
    widths = _widths(mesh, loops)
    words = f"closed {_counted(len(loops), 'hole')} with a flat cap, the widest {widths.max():.3g} mm across"
    return Done(
        closed, _sentence([words]), warning=_wide(widths), at_mm=_middle(mesh, loops[widths.argmax()])
    )


def closed_down(mesh: Mesh, floor_z: float) -> Done:
    """With walls from the open sides to the floor."""
    closing = close_down(mesh, floor_z=floor_z)
    words = []
    if closing.rims:
        words.append(f"closed the open side straight down to z = {closing.floor_mm:.4g} mm")
    if not closing.holes:
        return Done(closing.mesh, _sentence(words))
    widths = _widths(mesh, closing.holes)
    count = _counted(len(closing.holes), "opening")
    words.append(
        f"closed {count} with a flat cap, the widest {widths.max():.3g} mm across (not clearly facing down, "
        "or not free below)"
    )
    at = _middle(mesh, closing.holes[widths.argmax()])
    return Done(closing.mesh, _sentence(words), warning=_wide(widths), at_mm=at)


def _widths(mesh: Mesh, loops: list[NDArray[np.int32]]) -> NDArray[np.float64]:
    """Largest extent of each loop, mm."""
    return np.array([float(np.ptp(mesh.vertices[loop], axis=0).max()) for loop in loops])


def _middle(mesh: Mesh, loop: NDArray[np.int32]) -> tuple[float, float, float]:
    x, y, z = mesh.vertices[loop].mean(axis=0).tolist()
    return x, y, z


def _wide(widths: NDArray[np.float64]) -> str:
    """A warning about caps that the eye would see."""
    wide = int((widths > CAP_WARNING_MM).sum())
    if not wide:
        return ""
    verb = "is" if wide == 1 else "are"
    return (
        f"{_counted(wide, 'flat cap')} over {CAP_WARNING_MM:g} mm {verb} new surface that the sculpt did not "
        f"have, the widest {widths.max():.3g} mm across."
    )


def _counted(count: int, what: str, many: str = "") -> str:
    return f"{count} {what if count == 1 else many or what + 's'}"


def _sentence(words: list[str]) -> str:
    text = ", ".join(words)
    return text[:1].upper() + text[1:] + "." if text else ""


def without_cavities(mesh: Mesh) -> Done:
    """Without shells inside others."""
    table = edge_table(mesh.faces)
    if (table.face_count % 2).any() or shells(mesh, table=table)[1] < 2:
        return Done(mesh)
    filled, gone = without_nested_shells(mesh)
    words = [f"filled {_counted(gone, 'inner shell')}: a buck is solid"] if gone else []
    return Done(filled, _sentence(words))


def united_shells(mesh: Mesh) -> Done:
    """Shells that cross only each other, united by manifold3d."""
    labels, count = shells(mesh)
    if count < 2:
        return Done(mesh)
    pairs = labels[find_crossings(mesh, deeper_than_mm=CROSSING_DEPTH_MM).pairs]
    if (pairs[:, 0] == pairs[:, 1]).any() or (edge_table(mesh.faces).face_count % 2).any():
        return Done(mesh)
    united = unite_shells(mesh)
    if united is None:
        return Done(mesh)
    left = shells(united)[1]
    return Done(cleaned(united).mesh, _sentence([f"united {count} overlapping shells into {left}"]))


def resolved(mesh: Mesh) -> Done:
    """A surface that crosses itself, cut along its crossings."""
    if (edge_table(mesh.faces).face_count % 2).any():
        return Done(mesh)
    solved = resolve_crossings(mesh)
    if solved is None or solved is mesh:
        return Done(mesh)
    words = "Cut the surface where it touches or crosses itself, and kept the outside."
    if not (edge_table(solved.faces).face_count % 2).any():
        return Done(solved, words)
    # slivers of the cut that were judged wrongly leave slits
    closed = capped(oriented(welded(solved).mesh).mesh)
    return Done(closed.mesh, f"{words} {closed.words}".rstrip(), warning=closed.warning, at_mm=closed.at_mm)
