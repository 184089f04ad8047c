"""Snapshots (`.npz`): the arrays of a mesh as numpy stores them, for programs that hold a mesh themselves."""

import zipfile
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.lib import format as npy
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.bounds import refuse_bomb, refuse_many
from buckwright.mesh.triangles import Mesh

__all__ = ["read_snapshot", "snapshot_array"]

_WANTED = "a snapshot holds 'vertices' (V, 3) of floating numbers and 'faces' (F, 3) of whole numbers"


def read_snapshot(path: Path) -> Mesh:
    """Read the arrays `vertices` and `faces` of a numpy archive.

    Parameters
    ----------
    path : archive; `vertices` (V, 3) floating, `faces` (F, 3) whole numbers from 0; other arrays are ignored

    Returns
    -------
    Mesh
        Faces in the order of the archive.

    Raises
    ------
    MeshError
        Not a complete archive; an array is missing, of another kind or shape; an index is out of range.

    Notes
    -----
    The header of an array must agree with the size of its entry before anything is allocated, and nothing
    that would need unpickling is read.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            vertices = snapshot_array(archive, path.name, "vertices", "f")
            faces = snapshot_array(archive, path.name, "faces", "iu")
    except (zipfile.BadZipFile, EOFError, OSError, NotImplementedError, RuntimeError) as error:
        raise MeshError(
            f"{path.name} cannot be read as a snapshot ({error}); it was cut short or damaged, save it again"
        ) from error
    except MemoryError as error:
        raise MeshError(f"{path.name} is larger than the memory of this machine") from error
    if not len(faces):
        raise MeshError(f"{path.name} holds no triangles; a sculpt must be a triangle mesh")
    try:
        return Mesh.from_arrays(vertices, faces)
    except MeshError as error:
        raise MeshError(f"{path.name}: {error}") from error


def snapshot_array(archive: zipfile.ZipFile, name: str, key: str, kinds: str) -> NDArray[Any]:
    """One array (N, 3) of one of the kinds (`dtype.kind`), its header checked first."""
    entry = f"{key}.npy"
    if entry not in archive.namelist():
        raise MeshError(f"{name} holds no array '{key}'; {_WANTED}")
    try:
        with archive.open(entry) as stream:
            shape, dtype = _header(stream)
            _check(name, key, shape, dtype, kinds)
            # `tell` counts the bytes of the header
            room = archive.getinfo(entry).file_size - stream.tell()
            packed = archive.getinfo(entry).compress_size
        if room != shape[0] * shape[1] * dtype.itemsize:
            raise MeshError(f"{name}: the header of '{key}' does not match its content; save it again")
        refuse_many(name, shape[0] // (3 if key == "vertices" else 1))
        refuse_bomb(name, room, packed)
        with archive.open(entry) as stream:
            array: NDArray[Any] = npy.read_array(stream, allow_pickle=False)
    except MeshError:
        raise
    except ValueError as error:
        raise MeshError(f"{name}: '{key}' is no numpy array ({error}); save it again") from error
    return array


def _header(stream: IO[bytes]) -> tuple[tuple[int, ...], np.dtype[Any]]:
    version = npy.read_magic(stream)
    read = npy.read_array_header_1_0 if version == (1, 0) else npy.read_array_header_2_0
    shape, _, dtype = read(stream)
    return shape, dtype


def _check(name: str, key: str, shape: tuple[int, ...], dtype: np.dtype[Any], kinds: str) -> None:
    if len(shape) != 2 or shape[1] != 3:
        raise MeshError(f"{name}: '{key}' has the shape {shape}; {_WANTED}")
    if dtype.kind not in kinds:
        raise MeshError(f"{name}: '{key}' holds {dtype}; {_WANTED}")
