"""Texture coordinates of a sculpt: those of an OBJ, or of a snapshot; corner by corner of its triangles."""

import re
import zipfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.polygons import triangulated
from buckwright.mesh.snapshot import snapshot_array
from buckwright.mesh.text_formats import line_blocks, numbers_of, read_obj
from buckwright.mesh.texture_arrays import TEXTURE_ARRAYS

__all__ = ["read_texture"]

_CORNER = re.compile(rb"(-?\d+)(?:/(-?\d*)(?:/-?\d*)?)?")


def read_texture(path: Path) -> NDArray[np.float64] | None:
    """Read texture coordinates.

    Parameters
    ----------
    path : the sculpt's file

    Returns
    -------
    (F, 3, 2) float64 or None
        u to the right and v upwards, 0 to 1 over the picture; faces as `read_sculpt` gives them, nan where a
        corner has none. None where the file has none at all, or is of a kind that is not read for them.

    Raises
    ------
    MeshError
        The file cannot be read.
    """
    try:
        match path.suffix.lower():
            case ".obj":
                return _of_obj(path)
            case ".npz":
                return _of_snapshot(path)
    except (OSError, ValueError, zipfile.BadZipFile) as error:
        raise MeshError(f"the texture coordinates of {path.name} cannot be read ({error})") from error
    return None


def _of_snapshot(path: Path) -> NDArray[np.float64] | None:
    with zipfile.ZipFile(path) as archive:
        if not all(f"{name}.npy" in archive.namelist() for name in TEXTURE_ARRAYS):
            return None
        u, v = (snapshot_array(archive, path.name, name, "f") for name in TEXTURE_ARRAYS)
    return np.stack([u, v], axis=-1).astype(np.float64)


def _of_obj(path: Path) -> NDArray[np.float64] | None:
    places: list[NDArray[np.float64]] = []
    points, textures, counts = [], [], []
    seen_points = seen = 0
    for lines in line_blocks(path):
        for line in lines:
            kind = line[:2]
            if kind in (b"v ", b"v\t"):
                seen_points += 1
            elif line[:3] in (b"vt ", b"vt\t"):
                places.append(numbers_of(b" ".join(line.split()[1:3])))
                seen += 1
            elif kind in (b"f ", b"f\t"):
                found = _CORNER.findall(line[2:])
                points += [_from_start(one, seen_points) for one, _ in found]
                textures += [_from_start(one, seen) if one else -1 for _, one in found]
                counts.append(len(found))
    if not places or all(one < 0 for one in textures):
        return None
    known = np.vstack([*places, [np.nan, np.nan]])  # the last for corners without one
    which = np.array(textures, np.int64)
    if which.max() >= len(places):
        raise ValueError("a face refers to a texture coordinate that is not there")
    # cut as the mesh is, every corner a point of its own
    corners = read_obj(path).vertices[np.array(points, np.int64)]
    cut = triangulated(corners, np.arange(len(corners)), np.array(counts, np.int64))
    return np.asarray(known[which][cut], np.float64)


def _from_start(word: bytes, seen: int) -> int:
    number = int(word)
    return number - 1 if number > 0 else seen + number
