"""What is cut into the underside: channels between the vents, fixings, and letters where room is left."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

from buckwright.shape.underside.channels import ChannelPlan, channel_outline, channel_tools, plan_channels
from buckwright.shape.underside.engraving import Engraving, engraving_tools, plan_engraving
from buckwright.shape.underside.fixings import FixingPlan, FixingRequest, fixing_tools, plan_fixings

__all__ = ["Underside", "plan_underside"]


@dataclass(frozen=True, slots=True, eq=False)
class Underside:
    """Channels, fixings and lettering."""

    channels: ChannelPlan
    fixings: FixingPlan
    engraving: Engraving | None

    @property
    def notes(self) -> tuple[str, ...]:
        """What could not be made as asked."""
        engraved = () if self.engraving is None else self.engraving.notes
        return (*self.channels.notes, *self.fixings.notes, *engraved)

    def tools(self) -> tuple[Manifold, ...]:
        """What has to be subtracted from the buck."""
        cut = (*channel_tools(self.channels), *fixing_tools(self.fixings))
        return cut if self.engraving is None else (*cut, *engraving_tools(self.engraving))

    def to_dict(self) -> dict[str, Any]:
        """The section of the report."""
        return {
            "channels": self.channels.to_dict(),
            "fixings": self.fixings.to_dict(),
            "engraving": None if self.engraving is None else self.engraving.to_dict(),
        }


def plan_underside(
    outline: CrossSection,
    height_at: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    vents_xy: NDArray[np.float64],
    bores_mm: NDArray[np.float64],
    *,
    channel_width_mm: float,
    channel_depth_mm: float,
    wall_mm: float,
    platen_holes: NDArray[np.float64],
    fixing: Any,
    fixing_count: int,
    name: str,
    number: str,
) -> Underside:
    """Plan what is cut into the underside.

    Parameters
    ----------
    outline : of the underside, mm
    height_at : (N, 2) places -> (N,) height to which the solid rises unbroken, or up to a leaning bore, mm
    vents_xy, bores_mm : (V, 2) axes of the vents at the underside and (V,) diameters of their bores
    channel_width_mm, channel_depth_mm, wall_mm : measures
    platen_holes : (H, 2) holes of the platen that the channels lead to
    fixing, fixing_count : 'screw', 'magnet' or 'none', and how many
    name, number : letters to engrave; none if both are empty

    Returns
    -------
    Underside
    """
    channels = plan_channels(
        vents_xy,
        outline,
        bores_mm=bores_mm,
        width_mm=channel_width_mm,
        depth_mm=channel_depth_mm,
        wall_mm=wall_mm,
        platen_holes=platen_holes,
    )
    taken = channel_outline(channels)
    fixings = plan_fixings(
        outline,
        height_at,
        settings=FixingRequest(fixing=fixing, fixing_count=fixing_count),
        keep_out=taken,
    )
    if not (name or number):
        return Underside(channels, fixings, None)
    for hole in fixings.holes:
        taken = taken + CrossSection.circle(hole.diameter_mm / 2.0, 48).translate((hole.x_mm, hole.y_mm))
    return Underside(channels, fixings, plan_engraving(name, outline, job_number=number, keep_out=taken))
