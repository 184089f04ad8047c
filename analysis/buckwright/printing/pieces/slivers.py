"""Slivers that a plane shaves off: they stay on the piece beside them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from manifold3d import Manifold

from buckwright.mesh.manifolds import from_manifold
from buckwright.printing.pieces.axes import TOUCH_MM, box_of, meeting
from buckwright.printing.pieces.fitting import turned
from buckwright.printing.pieces.splitting import LEAST_PIECE_MM3, Cut
from buckwright.shape.solid import SLIVER_MM3

__all__ = ["Sliver", "planes_that_cut", "without_slivers"]

_THIN_MM = 2.0
"""A slab between a plane and the outside, or between two planes, that is thinner takes neither pin nor
letter. House rule: the least solid around a pin."""


@dataclass(frozen=True, slots=True)
class Sliver:
    """A body too small to be a piece, that planes cut off.

    Attributes
    ----------
    volume_mm3 : > 0
    at_mm : its middle, in the frame that the planes were cut in
    fate : 'joined' to the piece across the plane; 'dropped'; or 'alone', a piece of its own after all
    """

    volume_mm3: float
    at_mm: tuple[float, float, float]
    fate: Literal["joined", "dropped", "alone"]

    def turned_back(self, turn_deg: float) -> "Sliver":
        """It in the frame before that was turned counter-clockwise about the vertical."""
        ((x, y),) = turned(np.array([self.at_mm[:2]]), -turn_deg)
        return replace(self, at_mm=(float(x), float(y), self.at_mm[2]))

    def to_dict(self) -> dict[str, Any]:
        """The entry of the report."""
        return {"volume_mm3": self.volume_mm3, "at_mm": list(self.at_mm), "fate": self.fate}


def without_slivers(
    bodies: Sequence[Manifold], cuts: Sequence[Cut], *, fits: Callable[[Manifold], bool]
) -> tuple[list[Manifold], list[Sliver]]:
    """Leave a cut out where it only shaves something off.

    Parameters
    ----------
    bodies : what the planes leave, each in one piece, mm
    cuts : the planes
    fits : whether a body goes on the printer

    Returns
    -------
    bodies, slivers
        United they are what they were, but for those that were dropped.

    Notes
    -----
    A sliver goes to the body that it meets in the largest face, the smallest sliver first, and only where the
    two together go on the printer. What hangs below a level plane does not go to the body above, which would
    no longer stand on its own face.
    """
    planes = sorted({(cut.axis, cut.at_mm) for cut in cuts})
    kept, told = list(bodies), list[Sliver]()
    alone: list[Manifold] = []
    while small := [body for body in kept if _is_sliver(body, planes)]:
        sliver = min(small, key=lambda body: float(body.volume()))
        kept.remove(sliver)
        whole = _joined(sliver, [*kept, *alone], planes, fits)
        if whole is not None:
            other, both = whole
            (kept if other in kept else alone).remove(other)
            kept.append(both)
            told.append(_told(sliver, "joined"))
        elif sliver.volume() <= SLIVER_MM3 and (kept or alone):
            told.append(_told(sliver, "dropped"))
        else:
            alone.append(sliver)
    return [*kept, *alone], [*told, *(_told(body, "alone") for body in alone)]


def planes_that_cut(bodies: Sequence[Manifold], cuts: Sequence[Cut]) -> list[Cut]:
    """The planes at which bodies still meet."""
    if len(bodies) < 2:
        return []
    planes = {(cut.axis, cut.at_mm) for cut in cuts}
    cutting = {plane for plane in planes if _ends(bodies, *plane)}
    return [cut for cut in cuts if (cut.axis, cut.at_mm) in cutting]


def _ends(bodies: Sequence[Manifold], axis: int, at: float) -> bool:
    if any(np.abs(box_of(body)[:, axis] - at).min() < TOUCH_MM for body in bodies):
        return True
    pairs = ((one, other) for one in bodies for other in bodies if one is not other)
    return any(meeting(one, other, axis, at).area() > TOUCH_MM**2 for one, other in pairs)


def _is_sliver(body: Manifold, planes: Sequence[tuple[int, float]]) -> bool:
    """Whether a plane made it, and it is too small or too thin for a piece."""
    box = box_of(body)
    made = [axis for axis, at in planes if np.abs(box[:, axis] - at).min() < TOUCH_MM]
    thin = any(box[1, axis] - box[0, axis] < _THIN_MM for axis in made)
    return bool(made) and (thin or float(body.volume()) < LEAST_PIECE_MM3)


def _joined(
    sliver: Manifold,
    others: Sequence[Manifold],
    planes: Sequence[tuple[int, float]],
    fits: Callable[[Manifold], bool],
) -> tuple[Manifold, Manifold] | None:
    """The body that a sliver goes to, and the two in one."""
    faces = [(_common(sliver, other, planes), other) for other in others]
    for area, other in sorted(faces, key=lambda face: -face[0]):
        if area <= 0.0:
            return None
        both = other + sliver
        parts = [part for part in both.decompose() if part.volume() != 0.0]
        if len(parts) == 1 and fits(parts[0]):
            return other, parts[0]
    return None


def _common(sliver: Manifold, other: Manifold, planes: Sequence[tuple[int, float]]) -> float:
    """The face in which a sliver meets a body, mm2; 0 where it must not go to it."""
    box = box_of(sliver)
    area = 0.0
    for axis, at in planes:
        if abs(box[0, axis] - at) < TOUCH_MM:
            area = max(area, float(meeting(other, sliver, axis, at).area()))
        if abs(box[1, axis] - at) < TOUCH_MM and axis != 2:
            area = max(area, float(meeting(sliver, other, axis, at).area()))
    return area


def _told(sliver: Manifold, fate: Literal["joined", "dropped", "alone"]) -> Sliver:
    x, y, z = (float(value) for value in from_manifold(sliver).vertices.mean(axis=0))
    return Sliver(float(sliver.volume()), (x, y, z), fate)
