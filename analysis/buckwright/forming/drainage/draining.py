"""The vents against the forecast: what evacuates, how fast, and where the sheet stays bridged."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.drainage.causes import cause_of
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
    bridged : air over which the sheet stays stretched in spite of the vents, the largest first
    causes : why, of each, in words
    unvented : air that a forecast shuts in where no vent lies, the largest first
    """

    evacuation_s: tuple[float, ...]
    vented: Forecast | None
    bridged: tuple[TrappedAir, ...] = ()
    causes: tuple[str, ...] = ()
    unvented: tuple[TrappedAir, ...] = ()

    @property
    def vents_known(self) -> bool:
        """Whether anything is known of how the vents drain."""
        return bool(self.evacuation_s) or self.vented is not None

    def to_dict(self) -> dict[str, Any]:
        """The section `drainage` of the report."""
        vented = None
        if self.vented is not None:
            told = zip(self.bridged, self.causes, strict=True)
            bridged = [pool.to_dict() | {"cause": cause} for pool, cause in told]
            vented = {"trapped_air": len(self.vented.trapped_air), "bridged": bridged}
        bare = [pool.to_dict() for pool in self.unvented]
        return {"evacuation_s": list(self.evacuation_s), "without_vent": bare, "with_vents": vented}


def drain(
    forecast: Forecast,
    tops_mm: NDArray[np.float64],
    evacuation_s: Callable[[NDArray[np.float64], NDArray[np.int64]], list[float]],
    vented: Forecast | None,
    dropped: Sequence[tuple[float, float, float, int, str]] = (),
) -> Drainage:
    """Ask which vents lie under the air that a forecast traps, and what stays bridged.

    Parameters
    ----------
    forecast : in which air leaves everywhere
    tops_mm : (V, 3) vents
    evacuation_s : (volumes (P,) mm3, vents under each (P,)) -> seconds
    vented : the forecast with the vents, if it was run
    dropped : x, y, z, pocket and why, of places without a vent

    Returns
    -------
    Drainage
    """
    bridged, causes = _bridged(forecast, tops_mm, vented, dropped)
    if not len(tops_mm):
        return Drainage((), vented, bridged, causes, forecast.trapped_air)
    count = forecast.trapped_air_over(tops_mm).sum(axis=1)
    volumes = np.array([pool.volume_mm3 for pool in forecast.trapped_air], np.float64)
    bare = tuple(pool for pool, under in zip(forecast.trapped_air, count, strict=True) if not under)
    return Drainage(tuple(evacuation_s(volumes, count)), vented, bridged, causes, bare)


def _bridged(
    forecast: Forecast,
    tops_mm: NDArray[np.float64],
    vented: Forecast | None,
    dropped: Sequence[tuple[float, float, float, int, str]],
) -> tuple[tuple[TrappedAir, ...], tuple[str, ...]]:
    if vented is None:
        return (), ()
    left = _LEFT_SHEETS * vented.settings.sheet_mm
    numbers: list[int] = []
    for n, pool in enumerate(vented.trapped_air):
        # of two pools that part late, the smaller lies in the larger: one bridge
        within = (np.isin(pool.region, vented.trapped_air[m].region).all() for m in numbers)
        if pool.left_mm > left and not any(within):
            numbers.append(n)
    under = vented.trapped_air_over(tops_mm)
    causes = (
        cause_of(n, forecast=forecast, vented=vented, tops_mm=tops_mm, under=under[n], dropped=dropped)
        for n in numbers
    )
    return tuple(vented.trapped_air[n] for n in numbers), tuple(causes)
