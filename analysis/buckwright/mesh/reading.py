"""Reading a sculpt: one file in, one `Mesh` with shared corners out, or an error in plain words."""

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.binary_stl import read_binary_stl
from buckwright.mesh.bounds import MOST_NUMBER, refuse_many, refuse_scattered
from buckwright.mesh.package import read_package
from buckwright.mesh.ply import read_ply
from buckwright.mesh.scene_checks import check_glb
from buckwright.mesh.snapshot import read_snapshot
from buckwright.mesh.sniffing import check_content, is_binary_stl
from buckwright.mesh.text_formats import read_obj, read_off
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
_LONGEST_REASON = 300
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
    texture : (F, 3, 2) float64, texture coordinates of the corners of each face, for a sculpt that leaves its
        file; see `textures.read_texture`
    """

    mesh: Mesh
    format: str
    unit_in_file: str | None = None
    notes: tuple[str, ...] = ()
    texture: NDArray[np.float64] | None = None


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
    mesh, unit, notes = _READERS[kind](path)
    if not mesh.face_count:
        held = "only points or lines" if mesh.vertex_count else "no triangles"
        raise MeshError(f"{path.name} contains {held}; a sculpt must be a triangle mesh")
    _refuse_infinite(mesh, path.name)
    return Sculpt(_shared_corners(mesh, kind, path.name), kind, unit, notes)


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
    return Sculpt(_shared_corners(mesh, "memory", "the mesh"), "memory", unit)


_Read = tuple[Mesh, str | None, tuple[str, ...]]


def _in_words[T](path: Path, kind: str, read: Callable[[Path], T]) -> T:
    """Read a file; whatever goes wrong becomes a MeshError."""
    try:
        return read(path)
    except MeshError:
        raise
    except MemoryError as error:
        raise MeshError(f"{path.name} is larger than the memory of this machine") from error
    except Exception as error:  # a parser may raise anything on a broken file
        reason = str(error).strip()[:_LONGEST_REASON] or type(error).__name__
        raise MeshError(
            f"{path.name} cannot be read as {kind.upper()} ({reason}); "
            "export it again from your sculpting program"
        ) from error


def _plain(kind: str, read: Callable[[Path], Mesh]) -> Callable[[Path], _Read]:
    return lambda path: (_in_words(path, kind, read), None, ())


def _read_3mf(path: Path) -> _Read:
    package = _in_words(path, "3mf", read_package)
    return package.mesh, _unit_of(package.unit), package.notes


def _read_glb(path: Path) -> _Read:
    mesh = _put_together(_in_words(path, "glb", _glb_scene), path)
    note = "GLB files use metres with Y up: turned so that Z is up."
    return mesh.transformed(_Y_UP_TO_Z_UP), "m", (note,)


def _read_stl(path: Path) -> _Read:
    if is_binary_stl(path):
        return _in_words(path, "stl", read_binary_stl), None, ()
    return _put_together(_in_words(path, "stl", lambda one: _scene(one, "stl")), path), None, ()


def _glb_scene(path: Path) -> Any:
    check_glb(path)
    return _scene(path, "glb")


def _scene(path: Path, kind: str) -> Any:
    """Let trimesh parse the file."""
    import trimesh

    with warnings.catch_warnings(), path.open("rb") as stream:
        warnings.simplefilter("ignore")
        # numpy only warns when it meets something that is not a number in STL text, then drops the rest
        warnings.filterwarnings("error", message=".*could not be read to its end.*")
        return trimesh.load_scene(stream, file_type=kind, process=False)


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
        refuse_many(path.name, sum(len(one) for one in triangles) + len(faces))
        if not (np.abs(matrix) <= MOST_NUMBER).all():
            raise MeshError(f"{path.name} holds a transform that is not of finite numbers; export it again")
        part = Mesh.from_arrays(geometry.vertices, faces)
        _refuse_infinite(part, path.name)
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
    """Refuse coordinates that are not finite or beyond all measure, before anything is computed with them."""
    # comparing with the extremes takes no copy of the coordinates, and one that is not a number fails it
    if mesh.vertices.min() >= -MOST_NUMBER and mesh.vertices.max() <= MOST_NUMBER:
        return
    with np.errstate(invalid="ignore"):
        usable = (np.abs(mesh.vertices) <= MOST_NUMBER).all(axis=1)
    bad = ~usable[mesh.faces].all(axis=1)
    if not bad.any():
        return
    first = f"{int(bad.sum())} of {mesh.face_count} faces"
    if np.isfinite(mesh.vertices[mesh.faces[bad]]).all():
        raise MeshError(
            f"{name}: {first} have coordinates beyond {MOST_NUMBER:g}, first at face {int(bad.argmax())}; "
            "delete them, or scale the sculpt and export again"
        )
    raise MeshError(
        f"{name}: {first} have coordinates that are "
        f"not finite numbers (nan or infinity), first at face {int(bad.argmax())}; "
        "delete them and export again"
    )


def _shared_corners(mesh: Mesh, kind: str, name: str) -> Mesh:
    """Weld equal corners; an indexed mesh that is closed as it is keeps its own sharing."""
    closable = kind != "stl" and mesh.vertex_count <= 2 * mesh.face_count
    if closable and (edge_table(mesh.faces).face_count > 1).all():
        return mesh
    return weld_equal(mesh, counted=lambda vertices: refuse_scattered(name, vertices, mesh.face_count))


def _unit_of(named: str) -> str:
    """The unit of a 3MF model, as this library calls it."""
    plain = named.lower().removesuffix("s")
    plain = {"inche": "inch", "feet": "foot"}.get(plain, plain)
    if plain not in _UNIT_NAMES:
        raise MeshError(f"the 3MF file names the unit {named[:40]!r}, which 3MF does not know; export an STL")
    return _UNIT_NAMES[plain]


_READERS: dict[str, Callable[[Path], _Read]] = {
    "stl": _read_stl,
    "obj": _plain("obj", read_obj),
    "ply": _plain("ply", read_ply),
    "off": _plain("off", read_off),
    "3mf": _read_3mf,
    "glb": _read_glb,
    "npz": lambda path: (read_snapshot(path), None, ()),
}
