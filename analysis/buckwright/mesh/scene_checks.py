"""What a GLB says of itself, checked before anything is built from it."""

import json
import struct
from pathlib import Path
from typing import Any

from buckwright.errors import MeshError
from buckwright.mesh.bounds import MOST_FACES

__all__ = ["check_glb"]

_MOST_TABLE = 32_000_000  # bytes of the table of contents
_MOST_NODES = 10_000
_DEEPEST = 100


def check_glb(path: Path) -> None:
    """Refuse a scene that would grow beyond bounds when it is built.

    Parameters
    ----------
    path : glTF 2.0 in binary (specification, 4.4: twelve bytes of header, then the table of contents as JSON)

    Raises
    ------
    MeshError
        Too many or too deeply nested nodes, or more numbers than a sculpt has.
    ValueError
        The table cannot be read.
    """
    with path.open("rb") as stream:
        stream.seek(12)
        head = stream.read(8)
        if len(head) < 8:
            raise ValueError("no table of contents")
        length = struct.unpack("<I", head[:4])[0]
        if length > _MOST_TABLE:
            raise MeshError(f"{path.name} has a table of contents of {length / 1e6:.0f} MB; export it again")
        try:
            table = json.loads(stream.read(length))
        except RecursionError as error:
            raise ValueError("the table of contents is nested too deep") from error
    if not isinstance(table, dict):
        raise ValueError("the table of contents is no object")
    counts = [_count(one) for one in _rows(table, "accessors")]
    if sum(counts) > 12 * MOST_FACES:
        raise MeshError(
            f"{path.name} counts {sum(counts)} values; a sculpt of ten million triangles has fewer"
        )
    nodes = _rows(table, "nodes")
    if len(nodes) > _MOST_NODES:
        raise MeshError(f"{path.name} places {len(nodes)} objects; at most {_MOST_NODES} can be read")
    children = [node.get("children", []) for node in nodes]
    if not all(isinstance(below, list) for below in children) or sum(map(len, children)) > _MOST_NODES:
        raise MeshError(f"{path.name} links its objects in no tree; export it again")
    if _depth(children) > _DEEPEST:
        raise MeshError(
            f"{path.name} nests objects deeper than {_DEEPEST} levels, or in a circle; export it again"
        )


def _rows(table: dict[str, Any], name: str) -> list[dict[str, Any]]:
    rows = table.get(name, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise ValueError(f"'{name}' is no list")
    return rows


def _count(accessor: dict[str, Any]) -> int:
    count = accessor.get("count", 0)
    if not isinstance(count, int) or count < 0:
        raise ValueError("an accessor without a count")
    return count


def _depth(children: list[list[Any]]) -> int:
    """Levels of the deepest node; one more than can be where they run in a circle."""
    level = [1] * len(children)
    for _ in range(_DEEPEST + 1):
        changed = False
        for number, below in enumerate(children):
            for child in below:
                if isinstance(child, int) and 0 <= child < len(children) and level[child] <= level[number]:
                    level[child], changed = level[number] + 1, True
        if not changed or max(level) > _DEEPEST:
            break
    return max(level, default=0)
