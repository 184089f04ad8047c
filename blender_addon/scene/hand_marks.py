"""What the user has changed by hand on a buck: vents and blocks moved, added or deleted; the outline."""

import hashlib
from typing import Any

import bpy
import numpy as np

from . import results

__all__ = [
    "BLOCK",
    "VENT",
    "block_objects",
    "blocks",
    "copies",
    "drawn",
    "is_moved",
    "outline",
    "outline_touched",
    "planes",
    "planes_touched",
    "put",
    "signature",
    "stands",
    "vent_objects",
    "vents",
    "vents_touched",
    "was_put",
]

VENT = "buckwright_vent"
"""A custom property of markers that can be moved. A copy of one inherits it, and so asks for a vent of its
own; it is still the user's object, and no result."""
BLOCK = "buckwright_block"
"""The same of markers of take-up blocks."""


def vents(scene: bpy.types.Scene) -> bool:
    """Whether the vents are those that are marked in the scene, as far as nobody has said so."""
    made = results.of(scene).made == "MAKE"
    return made and (bool(results.facts(scene).get("own_vents")) or vents_touched(scene))


def blocks(scene: bpy.types.Scene) -> bool:
    """Whether the take-up blocks are those that are marked in the scene, as far as nobody has said so."""
    made = results.of(scene).made == "MAKE"
    return made and (bool(results.facts(scene).get("own_blocks")) or _touched(scene, "blocks"))


def outline(scene: bpy.types.Scene) -> bool:
    """Whether the outline is that of the curve in the scene, as far as nobody has said so."""
    made = results.of(scene).made == "MAKE"
    return made and (bool(results.facts(scene).get("own_outline")) or outline_touched(scene))


def planes(scene: bpy.types.Scene) -> bool:
    """Whether the split planes are those of the scene, as far as nobody has said so."""
    made = results.of(scene).made == "MAKE"
    return made and (bool(results.facts(scene).get("own_planes")) or planes_touched(scene))


def planes_touched(scene: bpy.types.Scene) -> bool:
    """Whether a split plane was moved, turned or deleted since the buck was made."""
    found = results.objects(scene, "CUT")
    put = results.facts(scene).get("planes", 0)
    return (bool(found) and len(found) != put) or any(stands(one) != was_put(one) for one in found)


def stands(one: bpy.types.Object) -> list[float]:
    """How an object stands, as numbers."""
    return [float(part) for row in one.matrix_basis for part in row]


def was_put(one: bpy.types.Object) -> list[float]:
    """How it stood when it was put."""
    put: Any = one.get("buckwright_put", ())
    return [float(part) for part in put]


def vent_objects(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """Markers of vents that can be moved, and copies of them, in the order of their names."""
    return _markers(scene, "VENT", VENT)


def block_objects(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """Markers of take-up blocks, and copies of them, in the order of their names."""
    return _markers(scene, "BLOCK", BLOCK)


def _markers(scene: bpy.types.Scene, role: str, mark: str) -> list[bpy.types.Object]:
    found = [*results.objects(scene, role), *copies(scene, mark)]
    return sorted(found, key=lambda one: one.name)


_OBJECTS = {"vents": vent_objects, "blocks": block_objects}


def copies(scene: bpy.types.Scene, mark: str) -> list[bpy.types.Object]:
    """Copies of markers that the user has made; `mark` is `VENT` or `BLOCK`."""
    collection = results.of(scene).collection
    marked = [] if collection is None else [one for one in collection.all_objects if mark in one]
    own = results.owned() if marked else frozenset()
    return [one for one in marked if one.session_uid not in own]


def vents_touched(scene: bpy.types.Scene) -> bool:
    """Whether a vent marker was moved, added or deleted since the buck was made."""
    return _touched(scene, "vents")


def _touched(scene: bpy.types.Scene, name: str) -> bool:
    markers = _OBJECTS[name](scene)
    return len(markers) != results.facts(scene).get(name, 0) or any(map(is_moved, markers))


def put(marker: bpy.types.Object) -> None:
    """Remember where a marker stands now."""
    marker["buckwright_put"] = _stand(marker)


def is_moved(marker: bpy.types.Object) -> bool:
    """Whether a marker is elsewhere than where it was put, or a block's has another size.

    A copy counts as moved if it was moved at all.
    """
    before: Any = marker.get("buckwright_put")
    return before is None or marker.parent is not None or _stand(marker) != [*before]


def _stand(marker: bpy.types.Object) -> list[float]:
    """Where a marker is; of a block also what gives its radius."""
    of_block = marker.get(BLOCK) is not None
    size = [*marker.scale, marker.empty_display_size] if of_block else []
    return [*marker.location, *size]


def outline_touched(scene: bpy.types.Scene) -> bool:
    """Whether the outline of the base was changed since the buck was made."""
    return any(
        drawn(curve) != [*curve.get("buckwright_put", ())] for curve in results.objects(scene, "OUTLINE")
    )


def drawn(curve: bpy.types.Object) -> list[float]:
    """Everything that makes the shape of a curve of straight lines, as numbers."""
    numbers = [float(v) for row in curve.matrix_basis for v in row]
    for spline in curve.data.splines:  # type: ignore[union-attr]
        numbers.append({"POLY": 0.0, "BEZIER": 1.0, "NURBS": 2.0}.get(spline.type, 3.0))
        numbers += _numbers(spline.points, "co", 4)
        for part in ("co", "handle_left", "handle_right"):
            numbers += _numbers(spline.bezier_points, part, 3)
    return numbers


def _numbers(points: Any, part: str, size: int) -> list[float]:
    found = np.empty(size * len(points), np.float32)
    points.foreach_get(part, found)
    return [float(v) for v in found]


def signature(scene: bpy.types.Scene, name: str) -> str:
    """A hash of where the marks on the buck are, cheap enough for what is drawn often.

    Parameters
    ----------
    name : 'vents', 'blocks', 'outline' or 'planes'
    """
    if name in _OBJECTS:
        placed = [(*_stand(one), one.parent and one.parent.name) for one in _OBJECTS[name](scene)]
    elif name == "planes":
        placed = [tuple(stands(one)) for one in results.objects(scene, "CUT")]
    else:
        placed = [tuple(drawn(curve)) for curve in results.objects(scene, "OUTLINE")]
    return hashlib.blake2b(repr(placed).encode(), digest_size=16).hexdigest()
