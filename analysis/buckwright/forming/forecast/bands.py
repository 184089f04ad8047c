"""How far the figures of a forecast can be off for want of resolution: against a coarser net."""

from dataclasses import asdict, dataclass

from buckwright.forming.forecast.figures import Figures

__all__ = ["Band", "OtherHeat", "band_of", "other_heat_of", "within"]

# A band is at least this share of its figure: so much heron and canopy scatter between 2,500 and 20,000
# first nodes, turned by 17 and 45 degrees and shifted by half a cell (docs: explanation/forecast.md).
_LEAST_THIN, _LEAST_WEAKEST, _LEAST_MEAN = 0.05, 0.1, 0.02
_LEAST_BY_FOLDS = 0.2  # of the weakest spot where part of the sheet folds: the spot can lie beside a fold
_FOLDS = 0.005  # share of the part that is not known from which it does
# Where both nets overlook detail the error does not fall as the cell yet: on the river relief a preview and
# its coarser net differ by 0.025 mm where a fine forecast is another 0.049 mm thinner. That twice will do is
# judgement.
_OVERLOOKED = 2.0


@dataclass(frozen=True, slots=True)
class Band:
    """What each figure may be off by, either way, for an ideal sheet.

    Attributes
    ----------
    thin_mm, weakest_mm, mean_mm : of the figures of these names
    """

    thin_mm: float
    weakest_mm: float
    mean_mm: float


@dataclass(frozen=True, slots=True)
class OtherHeat:
    """The figures under the other guess of the sheet's heat: evenly warm, or with a cold rim.

    Attributes
    ----------
    rim_colder_c : of that guess; 0 for a sheet that is evenly warm
    thin_mm, weakest_mm, mean_mm : of the figures of these names
    """

    rim_colder_c: float
    thin_mm: float
    weakest_mm: float
    mean_mm: float

    @property
    def words(self) -> str:
        """What the sheet would be like, in words."""
        return f"with a rim {self.rim_colder_c:g} °C colder" if self.rim_colder_c else "evenly warm"

    def to_dict(self) -> dict[str, float]:
        """Plain values for report.json."""
        return asdict(self)


def other_heat_of(shown: Figures, coarse: Figures, other: Figures, *, rim_colder_c: float) -> OtherHeat:
    """The figures under the other guess, from two runs on the coarser net.

    Parameters
    ----------
    shown : figures of the finer net
    coarse, other : of the coarser net: with the same heat, and with the other guess
    rim_colder_c : of the other guess

    Returns
    -------
    OtherHeat

    Notes
    -----
    The ratio of the two coarse runs is taken over to the finer net: both lack the same cells.
    """

    def scaled(name: str) -> float:
        return float(getattr(shown, name) * getattr(other, name) / getattr(coarse, name))

    return OtherHeat(rim_colder_c, scaled("thin_mm"), scaled("weakest_mm"), scaled("mean_mm"))


def band_of(fine: Figures, coarse: Figures, *, overlooks: bool = False) -> Band:
    """The band from two levels of the net.

    Parameters
    ----------
    fine : figures that are shown
    coarse : of the same sheet with a quarter of the nodes at first and cells twice as long at last
    overlooks : whether both nets are too coarse for details of the buck; the difference then counts twice

    Returns
    -------
    Band

    Notes
    -----
    The error falls about as the cell, so what is left is about the difference of two levels whose cells are
    one to two. Two levels can agree by chance, and the weakest spot can lie by a fold, which moves with the
    net; so a band has a least width, by the scatter that was measured.
    """

    def either(name: str, least: float) -> float:
        one, other = float(getattr(fine, name)), float(getattr(coarse, name))
        return max((_OVERLOOKED if overlooks else 1.0) * abs(one - other), least * one)

    least = _LEAST_BY_FOLDS if fine.not_known_share > _FOLDS else _LEAST_WEAKEST
    return Band(either("thin_mm", _LEAST_THIN), either("weakest_mm", least), either("mean_mm", _LEAST_MEAN))


def within(value_mm: float, band_mm: float | None) -> str:
    """A figure with its band, in words.

    Parameters
    ----------
    value_mm, band_mm : the figure, and what it may be off by; None where that is not known

    Returns
    -------
    str

    Examples
    --------
    >>> within(0.182, 0.021)
    '0.18 ±0.02 mm'
    """
    return f"{value_mm:.2f} mm" if band_mm is None else f"{value_mm:.2f} ±{max(band_mm, 0.01):.2f} mm"
