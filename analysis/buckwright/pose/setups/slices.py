"""Areas of slices along a pull, and the volume above them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh

__all__ = ["FOOT_SHARE", "Slices", "slices_of"]

FOOT_SHARE = 0.02
"""Share of the height above the lowest point at which the foot is judged: no scan stands level to a hair."""

_LEVELS = 96
# An outline that is wider than the foot by less is not worth sinking to; as in posing.
_WIDER = 1.02


@dataclass(frozen=True, slots=True, eq=False)
class Slices:
    """Slices along a pull.

    Attributes
    ----------
    low : height of the lowest point
    step : distance of the levels
    area : (L,) float64, of the slice in the middle of each level
    above : (L + 1,) float64, volume above the foot of each level
    """

    low: float
    step: float
    area: NDArray[np.float64]
    above: NDArray[np.float64]

    @property
    def foot_share(self) -> float:
        """Slice just above the lowest point over the greatest slice."""
        return float(np.clip(self.area[self._foot] / max(float(self.area.max()), 1e-12), 0.0, 1.0))

    @property
    def widest_mm(self) -> float:
        """Height of the greatest slice over the lowest point; 0 where the foot is as wide."""
        at = int(np.argmax(self.area))
        return 0.0 if self.area[at] < self.area[self._foot] * _WIDER else (at + 0.5) * self.step

    @property
    def _foot(self) -> int:
        return int(FOOT_SHARE * _LEVELS)

    def area_at(self, z: float) -> float:
        """Area of the slice whose level a height is in."""
        return float(self.area[min(max(int((z - self.low) / self.step), 0), len(self.area) - 1)])

    def volume_above(self, z: float) -> float:
        """Volume of the sculpt above a height."""
        heights = self.low + self.step * np.arange(len(self.above))
        return float(np.interp(z, heights, self.above))


def slices_of(shade: Mesh, low: float, high: float) -> Slices:
    """Slice a shape from its lowest to its highest point.

    Parameters
    ----------
    shade : with the pull along +z; where it is open it counts as if it went down to the base
    low, high : heights of the lowest and the highest point

    Returns
    -------
    Slices
    """
    step = max(high - low, 1e-9) / _LEVELS
    area = np.zeros(_LEVELS)
    _add_slices(shade.vertices, shade.faces, low + step / 2.0, step, area)
    above = np.concatenate([np.cumsum(area[::-1])[::-1] * step, [0.0]])
    return Slices(low, step, area, above)


@kernel
def _add_slices(vertices, faces, low, step, area):  # type: ignore[no-untyped-def]
    """Add to each level the signed plan area of every face above it."""
    levels = area.shape[0]
    wholly = np.zeros(levels + 1)
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        plan = (vertices[b, 0] - vertices[a, 0]) * (vertices[c, 1] - vertices[a, 1])
        plan -= (vertices[b, 1] - vertices[a, 1]) * (vertices[c, 0] - vertices[a, 0])
        plan /= 2.0
        za, zb, zc = vertices[a, 2], vertices[b, 2], vertices[c, 2]
        z0, z2 = min(za, zb, zc), max(za, zb, zc)
        z1 = za + zb + zc - z0 - z2
        first = min(max(int(np.ceil((z0 - low) / step)), 0), levels)
        wholly[first] += plan
        for k in range(first, levels):
            z = low + k * step
            if z >= z2:
                break
            if z <= z1 and z1 > z0:
                area[k] += plan * (1.0 - (z - z0) * (z - z0) / ((z2 - z0) * (z1 - z0)))
            else:
                area[k] += plan * (z2 - z) * (z2 - z) / ((z2 - z0) * (z2 - z1))
    above = 0.0
    for k in range(levels - 1, -1, -1):
        above += wholly[k + 1]
        area[k] += above
