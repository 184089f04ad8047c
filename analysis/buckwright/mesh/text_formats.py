"""Sculpts in text: Wavefront OBJ and OFF."""

import re
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.bounds import refuse_many
from buckwright.mesh.polygons import triangulated
from buckwright.mesh.triangles import Mesh

__all__ = ["line_blocks", "numbers_of", "read_obj", "read_off"]

_CHUNK = 1 << 23
_LONGEST_LINE = 1 << 25
_BLOCK = 200_000  # lines taken apart at a time
_TEXTURES = re.compile(rb"/[^\s]*")


def numbers_of(text: bytes) -> NDArray[np.float64]:
    """All numbers of a text.

    Parameters
    ----------
    text : numbers parted by white space

    Returns
    -------
    (n,) numbers in their order

    Raises
    ------
    ValueError
        A word that is no number.
    """
    with warnings.catch_warnings():
        # numpy only warns when it meets something that is not a number, and drops the rest
        warnings.simplefilter("error")
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ")
        except DeprecationWarning as error:
            raise ValueError("a word stands where a number should be") from error


def read_obj(path: Path) -> Mesh:
    """Read the triangles and polygons of an OBJ; materials and everything else are passed over.

    Parameters
    ----------
    path : file to read

    Returns
    -------
    mesh in the unit of the file, polygons cut into triangles

    Raises
    ------
    ValueError
        A line that makes no sense, or a face that refers to a point that is not there.
    MeshError
        Too many triangles.
    """
    points: list[NDArray[np.float64]] = []
    corners: list[NDArray[np.int64]] = []
    counts: list[NDArray[np.int64]] = []
    held = faces = 0
    for lines in line_blocks(path):
        new = [line[2:] for line in lines if line[:2] in (b"v ", b"v\t")]
        block, ends = _polygons(lines, held)
        if new:
            points.append(_coordinates(new))
            held += len(new)
        corners.append(block)
        counts.append(ends)
        faces += int(np.maximum(ends - 2, 0).sum())
        refuse_many(path.name, faces)
    if not held or not faces:
        return Mesh(np.concatenate([np.zeros((0, 3)), *points]), np.zeros((0, 3), np.int32))
    return _mesh(np.concatenate(points), np.concatenate(corners), np.concatenate(counts))


def line_blocks(path: Path) -> Iterator[list[bytes]]:
    """The lines of a file, some megabytes at a time; a line that ends with a backslash goes on."""
    rest = b""
    with path.open("rb") as stream:
        while data := stream.read(_CHUNK):
            text = (rest + data).replace(b"\r\n", b"\n").replace(b"\\\n", b" ")
            cut = text.rfind(b"\n") + 1
            if cut and text[:cut].endswith(b"\\\n"):
                cut = 0
            rest = text[cut:]
            if len(rest) > _LONGEST_LINE:
                raise ValueError("a line of more than 32 MB")
            yield [line.lstrip() for line in text[:cut].splitlines()]
    yield [line.lstrip() for line in rest.splitlines()]


def _coordinates(lines: list[bytes]) -> NDArray[np.float64]:
    """The first three numbers of each line."""
    columns = len(lines[0].split())
    numbers = numbers_of(b" ".join(lines))
    if columns == 3 and len(numbers) == 3 * len(lines):
        return numbers.reshape(-1, 3)
    rows = [line.split()[:3] for line in lines]
    if any(len(row) < 3 for row in rows):
        raise ValueError("a point with fewer than three coordinates")
    return numbers_of(b" ".join(word for row in rows for word in row)).reshape(-1, 3)


def _polygons(lines: list[bytes], held: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Corners of the faces of some lines, from 0, and the number of corners of each."""
    faces = [line[2:] for line in lines if line[:2] in (b"f ", b"f\t")]
    if not faces:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    bare = _TEXTURES.sub(b"", b"\n".join(faces))
    counts = np.array([len(line.split()) for line in bare.split(b"\n")], np.int64)
    corners = _whole(numbers_of(bare.replace(b"\n", b" ")))
    if len(corners) != counts.sum():
        raise ValueError("a face with a word that is no number")
    if (corners < 0).any():  # counted back from the points read so far
        new = np.array([line[:2] in (b"v ", b"v\t") for line in lines])
        is_face = np.array([line[:2] in (b"f ", b"f\t") for line in lines])
        before = np.repeat(held + np.cumsum(new)[is_face], counts)
        corners = np.where(corners < 0, corners + before + 1, corners)
    if (corners < 1).any():
        raise ValueError("a face refers to a point that is not there")
    return corners - 1, counts


def _whole(numbers: NDArray[np.float64]) -> NDArray[np.int64]:
    if not (np.abs(numbers) < 2**31).all() or (numbers != np.floor(numbers)).any():
        raise ValueError("a face refers to a point that is not there")
    return numbers.astype(np.int64)


def _mesh(points: NDArray[np.float64], corners: NDArray[np.int64], counts: NDArray[np.int64]) -> Mesh:
    if len(corners) and int(corners.max()) >= len(points):
        raise ValueError("a face refers to a point that is not there")
    with np.errstate(all="ignore"):
        return Mesh.from_arrays(points, triangulated(points, corners, counts))


def read_off(path: Path) -> Mesh:
    """Read an OFF in text (also COFF, NOFF: colours and normals are passed over).

    Parameters
    ----------
    path : file to read

    Returns
    -------
    mesh in the unit of the file, polygons cut into triangles

    Raises
    ------
    ValueError
        A line that makes no sense, or a face that refers to a point that is not there.
    MeshError
        Cut short, or too many triangles.
    """
    text = re.sub(rb"#[^\n]*", b"", path.read_bytes())
    keyword, _, rest = text.lstrip().partition(b"OFF")
    if keyword.upper() not in (b"", b"C", b"N", b"CN", b"ST"):
        raise ValueError("no OFF of three dimensions")
    del text
    lines = [line for line in rest.splitlines() if line.strip()]
    del rest
    if not lines:
        raise MeshError(f"{path.name} was cut short: its header counts no points; export it again")
    head = _whole(numbers_of(lines[0]))
    if len(head) < 2 or (head < 0).any():
        raise ValueError("no count of points and faces")
    points, faces = int(head[0]), int(head[1])
    refuse_many(path.name, faces)
    if len(lines) - 1 < points + faces:
        raise MeshError(
            f"{path.name} was cut short: its header counts {points} points and {faces} faces, "
            f"but {len(lines) - 1} lines follow; export it again"
        )
    if not points or not faces:
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    of_points, of_faces = lines[1 : 1 + points], lines[1 + points : 1 + points + faces]
    del lines
    places = [_coordinates(of_points[k : k + _BLOCK]) for k in range(0, points, _BLOCK)]
    del of_points
    rings = [_rings(of_faces[k : k + _BLOCK], path.name) for k in range(0, faces, _BLOCK)]
    del of_faces
    corners, counts = (np.concatenate([ring[k] for ring in rings]) for k in (0, 1))
    return _mesh(np.concatenate(places), corners, counts)


def _rings(lines: list[bytes], name: str) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Corners of the faces of some lines of an OFF, and the number of corners of each."""
    rows = [line.split() for line in lines]
    counts = np.array([int(row[0]) for row in rows], np.int64)
    if (counts < 0).any() or any(len(row) <= count for row, count in zip(rows, counts, strict=True)):
        raise MeshError(f"{name} was cut short: a face has fewer corners than it counts; export it again")
    words = [word for row, count in zip(rows, counts.tolist(), strict=True) for word in row[1 : count + 1]]
    corners = _whole(numbers_of(b" ".join(words)))
    if len(corners) != counts.sum() or (corners < 0).any():
        raise ValueError("a face refers to a point that is not there")
    return corners, counts
