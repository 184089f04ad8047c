"""PLY (G. Turk, The PLY Polygon File Format, 1994): polygons and triangle strips, in text or binary."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.bounds import MOST_TEXT_BYTES, refuse_large, refuse_many
from buckwright.mesh.polygons import strip_triangles, triangulated
from buckwright.mesh.text_formats import numbers_of
from buckwright.mesh.triangles import Mesh

__all__ = ["read_ply"]

_KINDS = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
    "int64": "i8",
    "uint64": "u8",
}
_LONGEST_HEADER = 1 << 20


@dataclass(frozen=True, slots=True)
class _Property:
    """One value of an element, or a list of them with its own count."""

    name: str
    kind: np.dtype[np.generic]
    count_kind: np.dtype[np.generic] | None


@dataclass(frozen=True, slots=True)
class _Element:
    name: str
    rows: int
    properties: tuple[_Property, ...]

    @property
    def lists(self) -> bool:
        return any(one.count_kind is not None for one in self.properties)


def read_ply(path: Path) -> Mesh:
    """Read the points and the polygons or strips of a PLY.

    Parameters
    ----------
    path : text or binary PLY

    Returns
    -------
    mesh in the unit of the file, polygons cut into triangles

    Raises
    ------
    ValueError
        A header or number that makes no sense, or a face that refers to a point that is not there.
    MeshError
        Cut short, too many triangles, or too large.
    """
    data = path.read_bytes()
    elements, text, start = _header(data)
    body: _Body = _Binary(data, start, path.name)
    if text:
        refuse_large(path.name, len(data), MOST_TEXT_BYTES)
        body = _Text(numbers_of(data[start:]), path.name)
    points = np.zeros((0, 3))
    corners, counts = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for element in elements:
        if element.name == "vertex":
            points = body.table(element, ("x", "y", "z"))
        elif element.lists:
            refuse_many(path.name, element.rows if element.name == "face" else 0)
            rings, ends = body.lists(element)
            if element.name == "tristrips":
                rings = _strips(rings, ends).ravel()
                ends = np.full(len(rings) // 3, 3)
            if element.name in ("face", "tristrips"):
                corners.append(rings)
                counts.append(ends)
        else:
            body.table(element, ())
    every, ends = np.concatenate(corners), np.concatenate(counts)
    refuse_many(path.name, int(np.maximum(ends - 2, 0).sum()))
    if len(every) and not 0 <= int(every.min()) <= int(every.max()) < len(points):
        raise ValueError("a face refers to a point that is not there")
    with np.errstate(all="ignore"):
        return Mesh.from_arrays(points, triangulated(points, every, ends))


def _strips(rings: NDArray[np.int64], counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Triangles of strips, each list a set of strips of its own."""
    ends = np.cumsum(counts)
    return strip_triangles(np.insert(rings, ends[:-1], -1))


def _header(data: bytes) -> tuple[list[_Element], bool, int]:
    """Elements, whether the rest is text, and where it begins."""
    end = data.find(b"end_header", 0, _LONGEST_HEADER)
    if end < 0:
        raise ValueError("the header has no end")
    start = data.find(b"\n", end) + 1
    if not start:
        start = len(data)
    lines = [line.split() for line in data[:end].decode("latin-1").splitlines()[1:]]
    order, text = "<", False
    elements: list[_Element] = []
    for words in lines:
        match words:
            case ["format", kind, *_]:
                text, order = kind == "ascii", ">" if "big" in kind else "<"
            case ["element", name, rows]:
                if int(rows) < 0:
                    raise ValueError(f"{rows} rows of {name}")
                elements.append(_Element(name, int(rows), ()))
            case ["property", "list", count, kind, name] if elements:
                new = _Property(name, _kind(order, kind), _kind(order, count))
                elements[-1] = _with(elements[-1], new)
            case ["property", kind, name] if elements:
                elements[-1] = _with(elements[-1], _Property(name, _kind(order, kind), None))
    return elements, text, start


def _kind(order: str, name: str) -> np.dtype[np.generic]:
    if name not in _KINDS:
        raise ValueError(f"the header names the unknown kind of number {name!r}")
    return np.dtype(order + _KINDS[name])


def _with(element: _Element, new: _Property) -> _Element:
    return _Element(element.name, element.rows, (*element.properties, new))


class _Body:
    """What follows the header, read element by element."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._at = 0

    def table(self, element: _Element, wanted: tuple[str, ...]) -> NDArray[np.float64]:
        """Columns of an element without lists."""
        raise NotImplementedError

    def lists(self, element: _Element) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The list of indices of each row, one after the other, and the length of each."""
        raise NotImplementedError

    def _cut_short(self, element: _Element) -> MeshError:
        return MeshError(
            f"{self._name} was cut short: its header counts {element.rows} of '{element.name}', "
            "but the file ends before; export it again"
        )


class _Text(_Body):
    def __init__(self, numbers: NDArray[np.float64], name: str) -> None:
        super().__init__(name)
        self._numbers = numbers

    def table(self, element: _Element, wanted: tuple[str, ...]) -> NDArray[np.float64]:
        columns = len(element.properties)
        end = self._at + element.rows * columns
        if end > len(self._numbers):
            raise self._cut_short(element)
        rows = self._numbers[self._at : end].reshape(element.rows, columns)
        self._at = end
        table = np.empty((element.rows, len(wanted)))
        for place, k in enumerate(_columns(element, wanted)):
            table[:, place] = rows[:, k].astype(element.properties[k].kind)
        return table

    def lists(self, element: _Element) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        wanted = _list_of(element)
        if element.rows > len(self._numbers) - self._at:
            raise self._cut_short(element)
        starts, counts = np.empty(element.rows, np.int64), np.empty(element.rows, np.int64)
        numbers, at = self._numbers, self._at
        for row in range(element.rows):
            for one in element.properties:
                count = 0
                if one.count_kind is not None:
                    if at >= len(numbers):
                        raise self._cut_short(element)
                    count = int(numbers[at])
                    if count < 0:
                        raise ValueError("a list of less than nothing")
                if one is wanted:
                    starts[row], counts[row] = at + 1, count
                at += 1 + count
            if at > len(numbers):
                raise self._cut_short(element)
        self._at = at
        return numbers[_spans(starts, counts)].astype(np.int64), counts


class _Binary(_Body):
    def __init__(self, data: bytes, start: int, name: str) -> None:
        super().__init__(name)
        self._data, self._at = data, start

    def table(self, element: _Element, wanted: tuple[str, ...]) -> NDArray[np.float64]:
        row = np.dtype([(f"{k}", one.kind) for k, one in enumerate(element.properties)])
        if self._at + element.rows * row.itemsize > len(self._data):
            raise self._cut_short(element)
        rows = np.frombuffer(self._data, row, element.rows, self._at)
        self._at += element.rows * row.itemsize
        table = np.empty((element.rows, len(wanted)))
        for place, k in enumerate(_columns(element, wanted)):
            table[:, place] = rows[f"{k}"]
        return table

    def lists(self, element: _Element) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        wanted = _list_of(element)
        if element.rows > len(self._data) - self._at:
            raise self._cut_short(element)
        even = self._even(element, wanted)
        return even if even is not None else self._ragged(element, wanted)

    def _even(
        self, element: _Element, wanted: _Property
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]] | None:
        """Rows that are all as long as the first; None where they are not."""
        if sum(one.count_kind is not None for one in element.properties) > 1 or not element.rows:
            return None
        before = element.properties[: element.properties.index(wanted)]
        count_kind = wanted.count_kind
        assert count_kind is not None
        at = self._at + sum(one.kind.itemsize for one in before)
        if at + count_kind.itemsize > len(self._data):
            raise self._cut_short(element)
        count = int(np.frombuffer(self._data, count_kind, 1, at)[0])
        if not 0 < count <= 16:
            return None
        fields: list[tuple[str, np.dtype[np.generic]] | tuple[str, np.dtype[np.generic], tuple[int]]] = []
        for k, one in enumerate(element.properties):
            if one is wanted:
                fields += [("count", count_kind), ("list", one.kind, (count,))]
            else:
                fields.append((f"{k}", one.kind))
        row = np.dtype(fields)
        if self._at + element.rows * row.itemsize > len(self._data):
            return None
        rows = np.frombuffer(self._data, row, element.rows, self._at)
        if (rows["count"] != count).any():
            return None
        self._at += element.rows * row.itemsize
        return rows["list"].astype(np.int64).ravel(), np.full(element.rows, count)

    def _ragged(self, element: _Element, wanted: _Property) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        data, at = self._data, self._at
        order = "big" if wanted.kind.byteorder == ">" else "little"
        pieces: list[bytes] = []
        counts = np.empty(element.rows, np.int64)
        for row in range(element.rows):
            for one in element.properties:
                if one.count_kind is None:
                    at += one.kind.itemsize
                    continue
                wide = one.count_kind.itemsize
                count = int.from_bytes(data[at : at + wide], order)  # type: ignore[arg-type]
                at += wide
                if at + count * one.kind.itemsize > len(data):
                    raise self._cut_short(element)
                if one is wanted:
                    pieces.append(data[at : at + count * one.kind.itemsize])
                    counts[row] = count
                at += count * one.kind.itemsize
        if at > len(data):
            raise self._cut_short(element)
        self._at = at
        return np.frombuffer(b"".join(pieces), wanted.kind).astype(np.int64), counts


def _list_of(element: _Element) -> _Property:
    """The list that names points."""
    lists = [one for one in element.properties if one.count_kind is not None]
    named = [one for one in lists if one.name in ("vertex_index", "vertex_indices")]
    return (named or lists)[0]


def _columns(element: _Element, wanted: tuple[str, ...]) -> list[int]:
    names = [one.name for one in element.properties]
    if not set(wanted) <= set(names):
        raise ValueError(f"'{element.name}' has no {', '.join(wanted)}")
    return [names.index(name) for name in wanted]


def _spans(starts: NDArray[np.int64], counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """The indices start .. start + count - 1 of each pair, one after the other."""
    first = np.cumsum(counts) - counts
    spans: NDArray[np.int64] = np.arange(int(counts.sum())) + np.repeat(starts - first, counts)
    return spans
