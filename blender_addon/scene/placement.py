"""Where the buck stands in the scene: over its sculpt, upright or not; a scaled one at the sculpt's size."""

import json
from dataclasses import dataclass

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.units import mm_per_unit
from . import results

__all__ = ["Placement"]

# Shrinkage is under 4 %; a buck that differs more was scaled to a wanted size.
_SAME_SIZE = 0.1

type Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """The map between three kinds of coordinates.

    Attributes
    ----------
    frame : (4, 4) from the sculpt's coordinates to the buck's, both mm
    home : (3,) mm, world place of the buck's origin
    mm : millimetres in a unit of the scene
    turned : whether the sculpt lies upside down in it, as in a female mould; that is drawn with its cavity up
    """

    frame: Array
    home: Array
    mm: float
    turned: bool = False

    @classmethod
    def over(cls, frame: Array, sculpt: Array, mm: float, *, turned: bool = False) -> "Placement":
        """Stand a buck over its sculpt.

        Parameters
        ----------
        frame : (4, 4) from the sculpt's coordinates to the buck's, mm
        sculpt : (V, 3) the sculpt, mm
        mm : millimetres in a unit of the scene
        turned : whether the sculpt lies upside down in it
        """
        # The middle of the sculpt stays where it is; the buck is larger by what the part will shrink.
        middle = (sculpt.min(axis=0) + sculpt.max(axis=0)) / 2.0
        unmoved = cls(frame, np.zeros(3), mm, turned)
        home = middle - mm * unmoved.to_world(unmoved.sculpt_to_buck(middle[None]))[0]
        return cls(frame, home, mm, turned)

    @classmethod
    def of(cls, scene: bpy.types.Scene) -> "Placement":
        """That of the last result; without one, the world itself."""
        kept, frame = results.of(scene), results.frame(scene)
        home = np.array(json.loads(kept.home)) if kept.home else np.zeros(3)
        return cls(np.eye(4) if frame is None else frame, home, mm_per_unit(scene), kept.turned)

    @property
    def drawn(self) -> float:
        """How large the buck is drawn, as a share of its true size.

        1, unless it was scaled to a wanted size: it would be a speck beside a sculpt that was imported in
        metres, or hide in a small one. Such a buck is drawn at the sculpt's size.
        """
        scale = _parts(self.frame)[0]
        return 1.0 if abs(scale - 1.0) <= _SAME_SIZE else 1.0 / scale

    @property
    def _rotation(self) -> Array:
        rotation = _parts(self.frame)[1]
        return rotation * [[1.0], [-1.0], [-1.0]] if self.turned else rotation

    def matrix(self) -> Array:
        """(4, 4) matrix of an object whose mesh is in the buck's frame, Blender units."""
        matrix = np.eye(4)
        matrix[:3, :3] = self.drawn * self._rotation.T
        matrix[:3, 3] = self.home / self.mm
        return matrix

    def to_world(self, buck_mm: Array) -> Array:
        """From the buck's frame (N, 3) to the world, Blender units."""
        return np.asarray((self.drawn * buck_mm @ self._rotation + self.home) / self.mm)

    def to_buck(self, world: Array) -> Array:
        """From the world (N, 3), Blender units, to the buck's frame, mm."""
        return np.asarray((world * self.mm - self.home) @ self._rotation.T / self.drawn)

    def to_sculpt(self, world: Array) -> Array:
        """From the world (N, 3), Blender units, where the buck stands, to the sculpt's coordinates, mm."""
        return self.buck_to_sculpt(self.to_buck(world))

    def buck_to_sculpt(self, buck_mm: Array) -> Array:
        """From the buck's frame (N, 3) to the sculpt's coordinates, mm."""
        return np.asarray(np.linalg.solve(self.frame[:3, :3], (buck_mm - self.frame[:3, 3]).T).T)

    def sculpt_to_buck(self, sculpt_mm: Array) -> Array:
        """From the sculpt's coordinates (N, 3), mm, to the buck's frame."""
        return np.asarray(sculpt_mm @ self.frame[:3, :3].T + self.frame[:3, 3])


def _parts(frame: Array) -> tuple[float, Array]:
    """Scale and rotation of a frame.

    The buck of a mirrored sculpt is drawn as it is made, so that its lettering reads right and an object that
    is exported from the scene is the true one: its rotation leaves the mirroring out.
    """
    sized = np.linalg.det(frame[:3, :3])
    scale = float(np.cbrt(abs(sized)))
    rotation = frame[:3, :3] / scale
    return scale, rotation if sized > 0.0 else rotation * [[-1.0], [1.0], [1.0]]
