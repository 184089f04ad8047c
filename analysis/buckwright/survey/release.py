"""Whether the formed part can be flexed off past an undercut. Small-strain formulas only."""

from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import InputError

__all__ = [
    "COMES_OFF_MM",
    "Mode",
    "Release",
    "StrainRange",
    "Verdict",
    "flap_strain",
    "judge_release",
    "ring_strain",
]

Verdict = Literal["comes off", "flexes off", "locked"]
Mode = Literal["nothing to pass", "closed ring", "free flap"]

COMES_OFF_MM = 0.1  # sideways movement that counts as none: the most that a full draft fill may leave


class StrainRange(Protocol):
    """Strain that a sheet tolerates once and cold: ratios with their source (a row of the sheet table)."""

    @property
    def low(self) -> float: ...  # noqa: D102
    @property
    def high(self) -> float: ...  # noqa: D102
    @property
    def source(self) -> str: ...  # noqa: D102
    @property
    def mark(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Release:
    """How one trapped region releases.

    Attributes
    ----------
    strain : ratio that the part must tolerate on the easier realistic way off
    allowable : the sheet's range of ratios, with source
    verdict : ``comes off``, ``flexes off`` (strain at most the low end of the range) or ``locked``
    mode : the way off that was judged
    assumption : in words, what was assumed
    """

    strain: float
    allowable: StrainRange
    verdict: Verdict
    mode: Mode
    assumption: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : strain, allowable (low, high, source, mark), verdict, mode and assumption
        """
        given = self.allowable
        limits = {"low": given.low, "high": given.high, "source": given.source, "mark": given.mark}
        return {
            "strain": self.strain,
            "allowable": limits,
            "verdict": self.verdict,
            "mode": self.mode,
            "assumption": self.assumption,
        }


def ring_strain(sideways_mm: ArrayLike, diameter_mm: ArrayLike) -> NDArray[np.float64]:
    """Hoop strain of a closed ring that is pushed out by `sideways_mm` all round: 2 y / d.

    Parameters
    ----------
    sideways_mm : outward movement y, >= 0; any shape
    diameter_mm : diameter d of the ring, > 0; broadcast against `sideways_mm`

    Returns
    -------
    float64 array : strain as a ratio
    """
    return np.asarray(2.0 * np.asarray(sideways_mm, np.float64) / np.asarray(diameter_mm, np.float64))


def flap_strain(sideways_mm: ArrayLike, length_mm: ArrayLike, thickness_mm: ArrayLike) -> NDArray[np.float64]:
    """Bending strain at the root of a flap whose free end moves by `sideways_mm`: 3/2 t y / L^2.

    Parameters
    ----------
    sideways_mm : movement y of the free end, >= 0; any shape
    length_mm : free length L, > 0
    thickness_mm : thickness t, > 0

    Returns
    -------
    float64 array : strain as a ratio, of the broadcast shape

    Notes
    -----
    End-loaded cantilever, small deflection: y = F L^3 / 3 E I, strain = F L t / 2 E I.
    """
    bend = np.asarray(thickness_mm, np.float64) * np.asarray(sideways_mm, np.float64)
    return np.asarray(1.5 * bend / np.asarray(length_mm, np.float64) ** 2)


def judge_release(
    *,
    sideways_mm: float,
    depth_mm: float,
    ring_diameter_mm: float,
    flap_length_mm: float | None,
    sheet_mm: float,
    allowable: StrainRange,
    thickness_mm: float | None = None,
) -> Release:
    """Judge one trapped region.

    Parameters
    ----------
    sideways_mm : greatest sideways movement that frees the region, >= 0
    depth_mm : how far it reaches below the overhang, >= 0
    ring_diameter_mm : > 0; of the outline there if the undercut goes all round, else the region's own
    flap_length_mm : from the trim line to the far end of the region, > 0; None where no free flap can bend
        outwards because the region goes all around or does not reach the trim line
    sheet_mm : thickness before forming, > 0
    allowable : strain that the sheet tolerates
    thickness_mm : of the formed part there, if a forecast exists; by default that of the sheet, which errs on
        the safe side

    Returns
    -------
    Release : strain, verdict and the way off that decided it

    Raises
    ------
    InputError
        A size is negative, zero where it must not be, or not a number.

    Notes
    -----
    The smaller strain of the realistic ways off decides. The verdict uses the low end of the allowable range
    because published ranges differ by up to three times.

    Examples
    --------
    A 20 mm flap of 1 mm sheet that has to move 0.5 mm sideways:

    >>> from types import SimpleNamespace
    >>> limits = SimpleNamespace(low=0.01, high=0.03, source="made up", mark="judgement")
    >>> found = judge_release(
    ...     sideways_mm=0.5, depth_mm=2.0, ring_diameter_mm=60.0, flap_length_mm=20.0, sheet_mm=1.0,
    ...     allowable=limits,
    ... )
    >>> round(found.strain, 6), found.verdict, found.mode
    (0.001875, 'flexes off', 'free flap')
    """
    _check(sideways_mm, depth_mm, ring_diameter_mm, flap_length_mm, sheet_mm, thickness_mm)
    if sideways_mm <= COMES_OFF_MM:
        words = f"{sideways_mm:.2g} mm sideways counts as straight off (limit {COMES_OFF_MM} mm)"
        return Release(0.0, allowable, "comes off", "nothing to pass", words)
    thickness = sheet_mm if thickness_mm is None else thickness_mm
    strain = float(ring_strain(sideways_mm, ring_diameter_mm))
    mode: Mode = "closed ring"
    if flap_length_mm is not None:
        bending = float(flap_strain(sideways_mm, flap_length_mm, thickness))
        if bending <= strain:
            strain, mode = bending, "free flap"
    verdict: Verdict = "flexes off" if strain <= allowable.low else "locked"
    words = f"moves {sideways_mm:.2f} mm sideways within {depth_mm:.1f} mm of height; "
    words += _way_off(mode, ring_diameter_mm, flap_length_mm, thickness, thickness_mm is None)
    if allowable.low < strain <= allowable.high:
        words += "; within the range of published limits but above its low end"
    return Release(strain, allowable, verdict, mode, words)


def _way_off(
    mode: Mode, ring_diameter_mm: float, flap_length_mm: float | None, thickness_mm: float, unforecast: bool
) -> str:
    if mode == "free flap":
        origin = "as the sheet before forming" if unforecast else "as forecast"
        size = f"{flap_length_mm:.1f} mm after trimming, {thickness_mm:.2f} mm thick"
        return f"bent as a free flap of {size} ({origin})"
    closed = "no free flap: the region goes all around or does not reach the trim line"
    stiff = "a free flap would strain more"
    why = closed if flap_length_mm is None else stiff
    return f"stretched as a closed ring of {ring_diameter_mm:.1f} mm ({why})"


def _check(
    sideways_mm: float,
    depth_mm: float,
    ring_diameter_mm: float,
    flap_length_mm: float | None,
    sheet_mm: float,
    thickness_mm: float | None,
) -> None:
    at_least_0 = {"sideways_mm": sideways_mm, "depth_mm": depth_mm}
    over_0 = {
        "ring_diameter_mm": ring_diameter_mm,
        "flap_length_mm": flap_length_mm,
        "sheet_mm": sheet_mm,
        "thickness_mm": thickness_mm,
    }
    for name, value in at_least_0.items():
        if not (np.isfinite(value) and value >= 0.0):
            raise InputError(f"{name} must be a number of at least 0, got {value}")
    for name, size in over_0.items():
        if size is not None and not (np.isfinite(size) and size > 0.0):
            raise InputError(f"{name} must be a number over 0, got {size}")
