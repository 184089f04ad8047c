"""Reading a sculpt: one file in, one `Mesh` with shared corners out, or an error in plain words."""

import warnings
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.snapshot import read_snapshot
from buckwright.mesh.sniffing import check_content
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.welding import weld_equal

__all__ = ["Sculpt", "read_sculpt", "sculpt_of"]

#: 3MF core specification, 3.4 (ST_Unit), to the names of `units.MM_PER_UNIT`.
_UNIT_NAMES = {
    "micron": "um",
    "millimeter": "mm",
    "centimeter": "cm",
    "meter": "m",
    "inch": "in",
    "foot": "ft",
}

#: glTF 2.0 specification, 3.4: right-handed, +Y up, +Z forward, metres. Here +Z is up.
_Y_UP_TO_Z_UP = np.array([[1.0, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]])


@dataclass(frozen=True, slots=True, eq=False)
class Sculpt:
    """The contents of a file.

    Attributes
    ----------
    mesh : in the numbers of the file (no unit applied), +Z up
    format : 'stl', 'obj', 'ply', 'off', '3mf', 'glb' or 'npz'
    unit_in_file : the unit stated in the file, a key of `units.MM_PER_UNIT`; None where it states none
    notes : what was done while reading, in plain words
    """

    mesh: Mesh
    format: str
    unit_in_file: str | None = None
    notes: tuple[str, ...] = ()


def read_sculpt(path: str | Path) -> Sculpt:
    """Read STL (text or binary), OBJ, PLY, OFF, 3MF, GLB or a snapshot (NPZ).

    Parameters
    ----------
    path : file; the extension names the format and must agree with the content

    Returns
    -------
    Sculpt
        Several objects in one file are combined where the file places them. Corners with equal coordinates
        become one vertex, unless the file already shares its corners without any open edge. Faces of a
        snapshot keep their number and order.

    Raises
    ------
    MeshError
        The path is missing, a directory, empty, unreadable, of an unknown or wrong extension; the file is cut
        short or its header is inconsistent; it holds no triangles, or coordinates that are not finite.
    """
    path = Path(path)
    kind = check_content(path)
    if kind == "npz":
        mesh = read_snapshot(path)
        _refuse_infinite(mesh, path.name)
        return Sculpt(_shared_corners(mesh, kind), kind)
    scene = _load(path, kind)
    mesh = _put_together(scene, path)
    _refuse_infinite(mesh, path.name)
    sculpt = Sculpt(_shared_corners(mesh, kind), kind)
    if kind == "3mf":
        return _with_3mf_unit(sculpt, scene)
    if kind == "glb":
        note = "GLB files use metres with Y up: turned so that Z is up."
        return replace(sculpt, mesh=sculpt.mesh.transformed(_Y_UP_TO_Z_UP), unit_in_file="m", notes=(note,))
    return sculpt


def sculpt_of(mesh: Mesh, *, unit: str | None = None) -> Sculpt:
    """A sculpt from triangles in memory; equal corners become one vertex, as in a file.

    Parameters
    ----------
    mesh : in any unit, +Z up
    unit : of its numbers, a key of `units.MM_PER_UNIT`; None leaves it open

    Returns
    -------
    Sculpt

    Raises
    ------
    MeshError
        No faces, or coordinates that are not finite.
    """
    if not mesh.face_count:
        raise MeshError("the mesh has no faces; a sculpt must be a triangle mesh")
    _refuse_infinite(mesh, "the mesh")
    return Sculpt(_shared_corners(mesh, "memory"), "memory", unit)


def _load(path: Path, kind: str) -> Any:
    """Let trimesh parse the file; whatever goes wrong becomes a MeshError."""
    import trimesh

    options: dict[str, Any] = (
        {"process": False, "maintain_order": True} if kind == "obj" else {"process": False}
    )
    try:
        with warnings.catch_warnings(), path.open("rb") as stream:
            warnings.simplefilter("ignore")
            # numpy only warns when it meets something that is not a number in STL text, then drops the rest
            warnings.filterwarnings("error", message=".*could not be read to its end.*")
            return trimesh.load_scene(stream, file_type=kind, **options)
    except Exception as error:  # a parser may raise anything on a broken file
        reason = str(error).strip() or type(error).__name__
        raise MeshError(
            f"{path.name} cannot be read as {kind.upper()} ({reason}); "
            "export it again from your sculpting program"
        ) from error


def _put_together(scene: Any, path: Path) -> Mesh:
    """Concatenate every triangle mesh of a scene, each where the scene places it."""
    points: list[NDArray[np.float64]] = []
    triangles: list[NDArray[np.int64]] = []
    count = 0
    for node in scene.graph.nodes_geometry:
        matrix, name = scene.graph[node]
        geometry = scene.geometry[name]
        faces = np.asarray(getattr(geometry, "faces", ()))
        if faces.ndim != 2 or not len(faces):
            continue
        part = Mesh.from_arrays(geometry.vertices, faces)
        if not np.array_equal(matrix, np.eye(4)):
            part = part.transformed(np.asarray(matrix, dtype=np.float64))
        points.append(part.vertices)
        triangles.append(part.faces.astype(np.int64) + count)
        count += part.vertex_count
    if not triangles:
        held = "only points or lines" if len(scene.geometry) else "no triangles"
        raise MeshError(f"{path.name} contains {held}; a sculpt must be a triangle mesh")
    return Mesh.from_arrays(np.concatenate(points), np.concatenate(triangles))


def _refuse_infinite(mesh: Mesh, name: str) -> None:
    """Refuse coordinates that are not finite, before anything is computed with them."""
    finite = np.isfinite(mesh.vertices).all(axis=1)
    if finite.all():
        return
    bad = ~finite[mesh.faces].all(axis=1)
    if not bad.any():
        return
    raise MeshError(
        f"{name}: {int(bad.sum())} of {mesh.face_count} faces have coordinates that are "
        f"not finite numbers (nan or infinity), first at face {int(bad.argmax())}; "
        "delete them and export again"
    )


def _shared_corners(mesh: Mesh, kind: str) -> Mesh:
    """Weld equal corners; an indexed mesh that is closed as it is keeps its own sharing."""
    if kind != "stl" and (edge_table(mesh.faces).face_count > 1).all():
        return mesh
    return weld_equal(mesh)


def _with_3mf_unit(sculpt: Sculpt, scene: Any) -> Sculpt:
    """Adopt the unit of a 3MF model; without one the specification says millimetre."""
    named = str(scene.metadata.get("units") or "millimeter").lower().removesuffix("s")
    named = {"inche": "inch", "feet": "foot"}.get(named, named)
    if named not in _UNIT_NAMES:
        raise MeshError(f"the 3MF file names the unit {named!r}, which 3MF does not know; export an STL")
    return replace(sculpt, unit_in_file=_UNIT_NAMES[named])
