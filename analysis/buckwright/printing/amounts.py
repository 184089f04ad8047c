"""What a print takes: plastic, filament, time; and how much of it hangs over."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from manifold3d import Manifold

from buckwright.mesh.manifolds import from_manifold
from buckwright.printing.materials import PRINT_MATERIALS
from buckwright.printing.settings import PrinterSettings, PrintSettings

__all__ = ["Amounts", "amounts_of"]

_FIRST_LAYER_MM = 0.1
_HANGING_DEG = 45.0
"""Undersides flatter than this need support: common practice, no source."""
_QUICK, _SLOW = 0.6, 1.7
"""A rough time may be off by these factors: judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """What it takes to print a body, without support.

    Attributes
    ----------
    volume_mm3 : of the body
    printed_mm3 : of plastic in it
    mass_g : of that plastic
    filament_m : length of filament
    time_h : (least, most) rough time
    first_layer_mm2 : area that lies on the bed
    overhang_mm2 : area above it that leans out by more than 45 degrees
    """

    volume_mm3: float
    printed_mm3: float
    mass_g: float
    filament_m: float
    time_h: tuple[float, float]
    first_layer_mm2: float
    overhang_mm2: float

    def plus(self, other: "Amounts") -> "Amounts":
        """Both together."""
        return Amounts(
            volume_mm3=self.volume_mm3 + other.volume_mm3,
            printed_mm3=self.printed_mm3 + other.printed_mm3,
            mass_g=self.mass_g + other.mass_g,
            filament_m=self.filament_m + other.filament_m,
            time_h=(self.time_h[0] + other.time_h[0], self.time_h[1] + other.time_h[1]),
            first_layer_mm2=self.first_layer_mm2 + other.first_layer_mm2,
            overhang_mm2=self.overhang_mm2 + other.overhang_mm2,
        )

    def less(self, other: "Amounts") -> "Amounts":
        """What this one takes more than another, of plastic and time; areas are left as they are."""
        return replace(
            self,
            volume_mm3=self.volume_mm3 - other.volume_mm3,
            printed_mm3=self.printed_mm3 - other.printed_mm3,
            mass_g=self.mass_g - other.mass_g,
            filament_m=self.filament_m - other.filament_m,
            time_h=(self.time_h[0] - other.time_h[0], self.time_h[1] - other.time_h[1]),
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain values for the report."""
        return {name: getattr(self, name) for name in self.__slots__} | {"time_h": list(self.time_h)}


def amounts_of(solid: Manifold, printed: PrintSettings, printer: PrinterSettings) -> Amounts:
    """Reckon what a body takes, from its volume and surface.

    Parameters
    ----------
    solid : as it stands on the bed, mm
    printed, printer : settings

    Returns
    -------
    Amounts

    Notes
    -----
    Shell = surface times its thickness, the rest is infill. At edges and in thin walls the shell is counted
    twice, so the plastic is reckoned somewhat too high, never more than the body holds.
    """
    mesh = from_manifold(solid)
    vectors = mesh.area_vectors()
    areas = np.linalg.norm(vectors, axis=1)
    volume = float(solid.volume())
    shell = min(float(areas.sum()) * printed.shell_mm, volume)
    plastic = shell + printed.infill_share * (volume - shell)
    low = float(mesh.bounds[0][2])
    down = vectors[:, 2] < -np.cos(np.radians(_HANGING_DEG)) * areas
    lifted = mesh.vertices[mesh.faces][:, :, 2].max(axis=1) > low + _FIRST_LAYER_MM
    hours = plastic / printer.flow_mm3_s / 3600.0
    return Amounts(
        volume_mm3=volume,
        printed_mm3=plastic,
        mass_g=plastic * PRINT_MATERIALS[printed.material].density_kg_m3 * 1e-6,
        filament_m=plastic / (np.pi / 4.0 * printer.filament_mm**2) * 1e-3,
        time_h=(_QUICK * hours, _SLOW * hours),
        first_layer_mm2=float(solid.slice(low + _FIRST_LAYER_MM).area()),
        overhang_mm2=float(areas[down & lifted].sum()),
    )
