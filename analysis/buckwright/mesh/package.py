"""3MF packages: the objects that are built, each where the build puts it.

The XML is read as a stream with bounds on its size; a document type declaration, and with it every entity, is
refused (3MF core specification, 2.1.4: there must be none).
"""

import zipfile
from array import array
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.bounds import MOST_FACES, MOST_NUMBER, refuse_bomb, refuse_large, refuse_many
from buckwright.mesh.triangles import Mesh

__all__ = ["Package", "read_package"]

#: 3MF core specification, 4.1.1: objects of these types are helpers of a print and not the part.
_LEFT_OUT = ("support", "solidsupport", "other")

_MOST_ENTRIES = 10_000
_MOST_XML = 360_000_000  # bytes, unpacked: five million triangles
_DEEPEST = 100  # components within components, and elements within elements
_MOST_PLACED = 100_000  # objects in the build, each occurrence counted
_CHUNK = 1 << 20
_LONGEST = 16 << 20  # bytes of one element

type _Key = tuple[str, str]
type _Matrix = NDArray[np.float64] | None


@dataclass(frozen=True, slots=True, eq=False)
class Package:
    """What a 3MF package builds.

    Attributes
    ----------
    mesh : all built objects together
    unit : as the package names it
    notes : what was left out, in plain words
    """

    mesh: Mesh
    unit: str
    notes: tuple[str, ...]


@dataclass(slots=True, eq=False)
class _Object:
    kind: str
    points: array[float] = field(default_factory=lambda: array("d"))
    faces: array[int] = field(default_factory=lambda: array("q"))
    components: list[tuple[_Key, _Matrix]] = field(default_factory=list)
    mesh: Mesh | None = None


def read_package(path: Path) -> Package:
    """Read a 3MF.

    Parameters
    ----------
    path : file to read

    Returns
    -------
    unit of the file, its meshes placed as the build says, and notes on what was passed over

    Raises
    ------
    MeshError
        Too large, packed too tightly, nested too deep or in a circle, a transform of no numbers.
    Exception
        Whatever a broken archive or broken XML raises.
    """
    with zipfile.ZipFile(path) as archive:
        if len(archive.infolist()) > _MOST_ENTRIES:
            raise MeshError(f"{path.name} holds {len(archive.infolist())} entries; no sculpt needs so many")
        return _Reader(archive, path.name).package()


class _Reader:
    """Reads the models of a package as they are referred to."""

    def __init__(self, archive: zipfile.ZipFile, name: str) -> None:
        self._archive, self._name = archive, name
        self._entries = {entry.filename.lower().lstrip("/"): entry for entry in archive.infolist()}
        self._objects: dict[_Key, _Object] = {}
        self._read: set[str] = set()
        self._bytes = self._faces = 0
        self._sizes: dict[_Key, tuple[int, int]] = {}
        self._skipped: dict[str, int] = {}

    def package(self) -> Package:
        root = next((name for name in self._entries if name.endswith("3d/3dmodel.model")), None)
        if root is None:
            raise ValueError("no model in the package")
        unit, items = self._model(root)
        placed = faces = 0
        for key, _ in items:
            more = self._size(key, ())
            placed, faces = placed + more[0], faces + more[1]
        refuse_many(self._name, faces)
        if placed > _MOST_PLACED:
            raise MeshError(f"{self._name} places {placed} objects; at most {_MOST_PLACED} can be read")
        mesh = self._together(items)
        notes = [
            f"Left out {count} object{'' if count == 1 else 's'} of type '{kind}': not part of the sculpt."
            for kind, count in self._skipped.items()
        ]
        return Package(mesh, unit, tuple(notes))

    def _model(self, part: str) -> tuple[str, list[tuple[_Key, _Matrix]]]:
        """Take in the objects of one model; its unit and what it builds."""
        entry = self._entries.get(part)
        if entry is None:
            raise ValueError(f"the package lacks {part}")
        self._read.add(part)
        self._bytes += entry.file_size
        refuse_large(self._name, self._bytes, _MOST_XML)
        refuse_bomb(self._name, entry.file_size, entry.compress_size)
        model = _Model(part, self._name)
        with self._archive.open(entry) as stream:
            while data := stream.read(_CHUNK):
                model.feed(data)
                refuse_many(self._name, self._faces + model.faces)
        model.feed(b"", last=True)
        self._faces += model.faces
        self._objects |= model.objects
        return model.unit, model.items

    def _object(self, key: _Key) -> _Object | None:
        if key not in self._objects and key[0] not in self._read and key[0] in self._entries:
            self._model(key[0])
        return self._objects.get(key)

    def _size(self, key: _Key, above: tuple[_Key, ...]) -> tuple[int, int]:
        """How many meshes and triangles an object comes to, with all its components."""
        if key in self._sizes:
            return self._sizes[key]
        if key in above:
            raise MeshError(f"{self._name}: object {key[1][:20]} contains itself; export it again")
        if len(above) >= _DEEPEST:
            raise MeshError(f"{self._name} nests objects deeper than {_DEEPEST} levels; export it again")
        one = self._object(key)
        if one is None:
            raise ValueError(f"the object {key[1][:20]!r} is not there")
        placed, faces = 1, len(one.faces) // 3
        if one.kind in _LEFT_OUT:
            faces = 0
        else:
            for child, _ in one.components:
                more = self._size(child, (*above, key))
                placed, faces = placed + more[0], faces + more[1]
        self._sizes[key] = placed, faces
        return placed, faces

    def _together(self, items: list[tuple[_Key, _Matrix]]) -> Mesh:
        points, triangles, count = [np.zeros((0, 3))], [np.zeros((0, 3), np.int64)], 0
        waiting = items[::-1]
        while waiting:
            key, matrix = waiting.pop()
            one = self._objects[key]
            if one.kind in _LEFT_OUT:
                self._skipped[one.kind] = self._skipped.get(one.kind, 0) + 1
                continue
            if len(one.faces):
                mesh = self._mesh(one)
                mesh = mesh if matrix is None else mesh.transformed(matrix)
                points.append(mesh.vertices)
                triangles.append(mesh.faces.astype(np.int64) + count)
                count += mesh.vertex_count
            waiting += [(child, _product(matrix, own)) for child, own in one.components[::-1]]
        return Mesh.from_arrays(np.concatenate(points), np.concatenate(triangles))

    def _mesh(self, one: _Object) -> Mesh:
        if one.mesh is None:
            points, faces = np.array(one.points).reshape(-1, 3), np.array(one.faces, dtype=np.int64)
            if len(faces) and not 0 <= faces.min() <= faces.max() < len(points):
                raise MeshError(f"{self._name} holds faces of points that are not there; export it again")
            one.mesh = Mesh.from_arrays(points, faces.reshape(-1, 3))
        return one.mesh


def _product(outer: _Matrix, inner: _Matrix) -> _Matrix:
    if outer is None or inner is None:
        return inner if outer is None else outer
    product: NDArray[np.float64] = outer @ inner
    if not (np.abs(product) <= MOST_NUMBER).all():
        raise MeshError("the transforms of nested objects multiply beyond all measure; export it again")
    return product


class _Model:
    """One model part, fed piece by piece."""

    def __init__(self, part: str, name: str) -> None:
        self.unit = "millimeter"
        self.objects: dict[_Key, _Object] = {}
        self.items: list[tuple[_Key, _Matrix]] = []
        self.faces = 0
        self._part, self._name = part, name
        self._now: _Object | None = None
        self._in_mesh = False
        self._depth = self._fed = self._points = self._placed = 0
        self._parser = expat.ParserCreate()
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartDoctypeDeclHandler = self._refuse_doctype

    def feed(self, data: bytes, *, last: bool = False) -> None:
        self._parser.Parse(data, last)
        self._fed += len(data)
        if self._fed - max(self._parser.CurrentByteIndex, 0) > _LONGEST:
            raise MeshError(f"{self._name} holds an element of more than 16 MB; export it again")

    def _refuse_doctype(self, *_: Any) -> None:
        raise MeshError(f"{self._name} declares a document type, which 3MF forbids; export it again")

    def _start(self, tag: str, values: dict[str, str]) -> None:
        self._depth += 1
        if max(self._points, self.faces) > MOST_FACES or max(self._placed, len(self.objects)) > _MOST_PLACED:
            raise MeshError(f"{self._name} holds more points or objects than any sculpt; decimate it")
        if self._depth > _DEEPEST:
            raise MeshError(f"{self._name} nests elements deeper than {_DEEPEST} levels; export it again")
        tag = tag.rpartition(":")[2]
        if self._in_mesh and self._now is not None:
            if tag == "vertex":
                self._points += 1
                self._now.points.extend((float(values["x"]), float(values["y"]), float(values["z"])))
            elif tag == "triangle":
                self._now.faces.extend((int(values["v1"]), int(values["v2"]), int(values["v3"])))
                self.faces += 1
        elif tag == "object":
            self._now = _Object(values.get("type", "model"))
            self.objects[self._part, values["id"]] = self._now
        elif tag == "mesh":
            self._in_mesh = True
        elif tag == "component" and self._now is not None:
            self._now.components.append((self._key(values), self._matrix(values)))
        elif tag == "item":
            self.items.append((self._key(values), self._matrix(values)))
        elif tag == "model":
            self.unit = values.get("unit", self.unit)

    def _end(self, tag: str) -> None:
        self._depth -= 1
        tag = tag.rpartition(":")[2]
        if tag == "mesh":
            self._in_mesh = False
        elif tag == "object":
            self._now = None

    def _key(self, values: dict[str, str]) -> _Key:
        """An object, in another part where a path is given (3MF production extension, 2.1)."""
        path = next((value for name, value in values.items() if name.rpartition(":")[2] == "path"), None)
        return (self._part if path is None else path.lower().lstrip("/"), values["objectid"])

    def _matrix(self, values: dict[str, str]) -> _Matrix:
        """Twelve numbers, row by row for row vectors (3MF core specification, 3.3)."""
        self._placed += 1
        text = values.get("transform")
        if text is None:
            return None
        try:
            numbers = np.array([float(word) for word in text.split()])
        except ValueError:
            numbers = np.zeros(0)
        if len(numbers) != 12 or not (np.abs(numbers) <= MOST_NUMBER).all():
            raise MeshError(
                f"{self._name} holds a transform that is not twelve numbers of at most {MOST_NUMBER:g}"
            )
        matrix = np.eye(4)
        matrix[:3] = numbers.reshape(4, 3).T
        return None if np.array_equal(matrix, np.eye(4)) else matrix
