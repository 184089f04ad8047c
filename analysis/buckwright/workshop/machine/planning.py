"""Whether a buck fits a machine, and what the machine's vacuum does with it: each answer with its figure."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.workshop.machine.figures import MachineFigures
from buckwright.workshop.machine.platen import Air, PlatenHoles
from buckwright.workshop.machine.vacuum import (
    ATMOSPHERE_KPA,
    Vacuum,
    force_n,
    pump_down_s,
    shared_kpa,
)

__all__ = ["Fit", "MachinePlan", "Suction", "plan_fit", "plan_suction"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """How a buck fits a machine; what is not known is None.

    Attributes
    ----------
    base_mm, height_mm : of the buck, the dead height of a reducing set in it
    platen_mm, round_platen : of the machine
    reach_mm : of a round platen, the least diameter that holds the base
    opening_mm : clear width and depth of the frame that is used
    passes : whether the base passes through the machine's own opening
    opening_fits : whether the opening that is used is no larger than the machine's own
    most_mm : greatest height that the machine takes
    dead_mm : height of the clamp plane over the platen
    sag_mm : greatest sag that is usual in the opening
    sag_room_mm : room for it
    blank_mm, oven_mm : sheet and oven
    """

    base_mm: tuple[float, float]
    height_mm: float
    platen_mm: tuple[float, float] | None
    round_platen: bool
    reach_mm: float
    opening_mm: tuple[float, float]
    passes: bool | None
    opening_fits: bool | None
    most_mm: float | None
    dead_mm: float
    sag_mm: float | None
    sag_room_mm: float | None
    blank_mm: tuple[float, float]
    oven_mm: tuple[float, float] | None

    @property
    def on_platen(self) -> bool | None:
        """Whether the base stands on the platen, either way round."""
        if self.platen_mm is None:
            return None
        if self.round_platen:
            return self.reach_mm <= self.platen_mm[0]
        return _goes_in(self.base_mm, self.platen_mm)

    @property
    def low_enough(self) -> bool | None:
        """Whether the machine is high enough."""
        return None if self.most_mm is None else self.height_mm <= self.most_mm

    @property
    def sags_free(self) -> bool | None:
        """Whether the sheet may sag as it usually does."""
        if self.sag_mm is None or self.sag_room_mm is None:
            return None
        return self.sag_mm <= self.sag_room_mm

    @property
    def in_oven(self) -> bool | None:
        """Whether the blank goes into the oven, either way round."""
        return None if self.oven_mm is None else _goes_in(self.blank_mm, self.oven_mm)

    @property
    def scale_to_fit(self) -> float:
        """Share of its size at which the buck would fit platen, opening and height; 1 where it fits.

        Land, riser and gap do not shrink with the part, so this is a place to begin.
        """
        shares = [1.0]
        if self.platen_mm is not None:
            if self.round_platen:
                shares.append(self.platen_mm[0] / self.reach_mm)
            else:
                shares += [clear / side for clear, side in zip(sorted(self.platen_mm), sorted(self.base_mm))]
        if self.most_mm is not None:
            shares.append(self.most_mm / self.height_mm)
        return min(shares)

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "base_mm": list(self.base_mm),
            "platen_mm": None if self.platen_mm is None else list(self.platen_mm),
            "on_platen": self.on_platen,
            "through_opening": self.passes,
            "opening_fits": self.opening_fits,
            "height_mm": self.height_mm,
            "dead_mm": self.dead_mm,
            "most_mm": self.most_mm,
            "low_enough": self.low_enough,
            "sag_mm": self.sag_mm,
            "sag_room_mm": self.sag_room_mm,
            "sags_free": self.sags_free,
            "oven_mm": None if self.oven_mm is None else list(self.oven_mm),
            "in_oven": self.in_oven,
            "scale_to_fit": self.scale_to_fit,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Suction:
    """What the vacuum does.

    Attributes
    ----------
    box_l : air in the box under the platen
    under_sheet_l : most air between hot sheet and buck
    shared_kpa : pressure once box, that air and the tank have shared; None without a tank
    holds_kpa : lowest pressure under the sheet
    target_kpa : pressure to which the times are told
    evacuate_s : time for box and air under the sheet with the pump alone
    tank_s : time to draw the tank down again
    force_n : on the buck at the lowest pressure
    """

    box_l: float
    under_sheet_l: float
    shared_kpa: float | None
    holds_kpa: float
    target_kpa: float
    evacuate_s: float
    tank_s: float | None
    force_n: float

    def to_dict(self) -> dict[str, Any]:
        """Plain values; what is never reached is None."""
        return {
            "box_l": self.box_l,
            "under_sheet_l": self.under_sheet_l,
            "shared_kpa": self.shared_kpa,
            "holds_kpa": self.holds_kpa,
            "target_kpa": self.target_kpa,
            "evacuate_s": self.evacuate_s if np.isfinite(self.evacuate_s) else None,
            "tank_s": self.tank_s if self.tank_s is None or np.isfinite(self.tank_s) else None,
            "force_n": self.force_n,
        }


@dataclass(frozen=True, slots=True, eq=False)
class MachinePlan:
    """Everything about buck and machine; what is not known is None.

    Attributes
    ----------
    title : of the machine
    source, mark : where its figures come from, and how far that was checked
    fit, suction, holes, air : the answers
    plated : whether a mask plate covers the holes to mask
    gives : what the machine gives for settings that are left out, by 'table.key'
    """

    title: str
    source: str
    mark: str
    fit: Fit
    suction: Suction | None
    holes: PlatenHoles | None
    air: Air | None
    plated: bool
    gives: Mapping[str, Any]

    def to_dict(self) -> dict[str, Any]:
        """The section `machine` of the report."""
        return {
            "title": self.title,
            "source": self.source,
            "mark": self.mark,
            "fit": self.fit.to_dict(),
            "vacuum": None if self.suction is None else self.suction.to_dict(),
            "holes": self._holes(),
        }

    def _holes(self) -> dict[str, Any] | None:
        if self.holes is None or self.air is None:
            return None
        return {
            "count": len(self.holes.places_mm),
            "to_mask": int(self.holes.masked.sum()),
            "mask_plate": self.plated,
            "beside_base": int(self.holes.beside.sum()),
            "under_channels": self.air.under,
            "vents": len(self.air.reached),
            "vents_reaching": int(self.air.reached.sum()),
        }


def plan_fit(
    figures: MachineFigures,
    *,
    base: list[NDArray[np.float64]],
    base_mm: tuple[float, float],
    height_mm: float,
    platen_mm: tuple[float, float] | None,
    frame_mm: tuple[float, float] | None,
    opening_mm: tuple[float, float],
    most_mm: float | None,
    dead_mm: float,
    blank_mm: tuple[float, float],
    sag_share: float,
) -> Fit:
    """Whether a buck fits.

    Parameters
    ----------
    figures : of the machine
    base : outlines of the base around its middle, (N, 2) each, mm
    base_mm, height_mm : of the buck
    platen_mm, frame_mm, most_mm : of the machine; None if not known
    opening_mm, dead_mm, blank_mm : of the rig
    sag_share : greatest usual sag over the smaller width of the opening

    Returns
    -------
    Fit
    """
    round_one = figures.shape == "round"
    reach = 2.0 * max(float(np.hypot(*np.asarray(ring).T).max()) for ring in base)
    passes = opening_fits = None
    if frame_mm is not None:
        opening_fits = _goes_in(opening_mm, frame_mm)
        passes = reach < frame_mm[0] if round_one else _goes_in(base_mm, frame_mm)
    return Fit(
        base_mm=base_mm,
        height_mm=height_mm,
        platen_mm=platen_mm,
        round_platen=round_one,
        reach_mm=reach,
        opening_mm=opening_mm,
        passes=passes,
        opening_fits=opening_fits,
        most_mm=most_mm,
        dead_mm=dead_mm,
        sag_mm=sag_share * min(opening_mm),
        sag_room_mm=figures.sag_room_mm,
        blank_mm=blank_mm,
        oven_mm=figures.oven_mm,
    )


def plan_suction(vacuum: Vacuum, *, under_sheet_l: float, base_mm2: float, target_kpa: float) -> Suction:
    """What a vacuum does with a buck.

    Parameters
    ----------
    vacuum : of the machine
    under_sheet_l : most air between sheet and buck
    base_mm2 : area of the base, seen down the pull
    target_kpa : pressure that is wanted

    Returns
    -------
    Suction
    """
    volume = vacuum.box_l + under_sheet_l
    shared = tank_s = None
    holds = vacuum.lowest_kpa
    if vacuum.tank_l > 0.0:
        shared = shared_kpa(volume, ATMOSPHERE_KPA, vacuum.tank_l, vacuum.tank_kpa)
        # the pump draws on, down to what it reaches; what counts is the first second
        holds = shared
        tank_s = pump_down_s(vacuum.tank_l, vacuum, start_kpa=shared, end_kpa=vacuum.tank_kpa)
    return Suction(
        box_l=vacuum.box_l,
        under_sheet_l=under_sheet_l,
        shared_kpa=shared,
        holds_kpa=holds,
        target_kpa=target_kpa,
        evacuate_s=pump_down_s(volume, vacuum, start_kpa=ATMOSPHERE_KPA, end_kpa=target_kpa),
        tank_s=tank_s,
        force_n=force_n(base_mm2, holds),
    )


def _goes_in(size: tuple[float, float], room: tuple[float, float]) -> bool:
    return max(size) <= max(room) and min(size) <= min(room)
