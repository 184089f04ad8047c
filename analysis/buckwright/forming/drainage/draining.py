"""The vents against the forecast: what evacuates, how fast, and where the sheet stays bridged."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.result import Forecast
from buckwright.forming.forecast.trapped_air import TrappedAir

__all__ = ["Drainage", "drain"]

_LEFT_SHEETS = 0.5  # a gap of more than so many sheets that is left at the end shows on the part (judgement)


@dataclass(frozen=True, slots=True, eq=False)
class Drainage:
    """How the air that the forecast traps gets out.

    Attributes
    ----------
    evacuation_s : time to evacuate each pool of trapped air, inf without a vent under it;
        empty where there are no vents at all
    vented : the forecast in which air leaves by the vents only; None where it was not run
    """

    evacuation_s: tuple[float, ...]
    vented: Forecast | None

    @property
    def vents_known(self) -> bool:
        """Whether anything is known of how the vents drain."""
        return bool(self.evacuation_s) or self.vented is not None

    @property
    def bridged(self) -> tuple[TrappedAir, ...]:
        """Air over which the sheet stays stretched in spite of the vents, the largest first."""
        if self.vented is None:
            return ()
        left = _LEFT_SHEETS * self.vented.settings.sheet_mm
        return tuple(pool for pool in self.vented.trapped_air if pool.left_mm > left)

    def to_dict(self) -> dict[str, Any]:
        """The section `drainage` of the report."""
        vented = None
        if self.vented is not None:
            bridged = [pool.to_dict() for pool in self.bridged]
            vented = {"trapped_air": len(self.vented.trapped_air), "bridged": bridged}
        return {"evacuation_s": list(self.evacuation_s), "with_vents": vented}


def drain(
    forecast: Forecast,
    tops_mm: NDArray[np.float64],
    evacuation_s: Callable[[NDArray[np.float64], NDArray[np.int64]], list[float]],
    vented: Forecast | None,
) -> Drainage:
    """Ask which vents lie under the air that a forecast traps.

    Parameters
    ----------
    forecast : in which air leaves everywhere
    tops_mm : (V, 3) vents
    evacuation_s : (volumes (P,) mm3, vents under each (P,)) -> seconds
    vented : the forecast with the vents, if it was run

    Returns
    -------
    Drainage
    """
    if not len(tops_mm):
        return Drainage((), vented)
    count = forecast.trapped_air_over(tops_mm).sum(axis=1)
    volumes = np.array([pool.volume_mm3 for pool in forecast.trapped_air], np.float64)
    return Drainage(tuple(evacuation_s(volumes, count)), vented)
