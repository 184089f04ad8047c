"""One at a time with a small blank, or several in one pull: sheets, pulls, waste, time."""

import math
from dataclasses import asdict, dataclass
from typing import Any

from buckwright.workshop.cutting.planning import laid_on
from buckwright.workshop.cutting.settings import StockSettings

__all__ = ["Way", "way_of"]

_HANDLING_S = 60.0  # to clamp, to take off and to clear: house rule


@dataclass(frozen=True, slots=True)
class Way:
    """One way to form the parts.

    Attributes
    ----------
    per_pull : parts from one pull
    blank_mm : width and depth of the sheet
    per_sheet : blanks from one stock sheet
    pulls : for parts and spares
    sheets : stock sheets; 0 where the blank does not go on the stock
    used_share : share of a stock sheet that becomes blanks
    sheet_m2_per_part : blank over parts
    hours : heating, cooling and a minute of handling for each pull; None where heating is not known
    """

    per_pull: int
    blank_mm: tuple[float, float]
    per_sheet: int
    pulls: int
    sheets: int
    used_share: float
    sheet_m2_per_part: float
    hours: float | None

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return asdict(self)


def way_of(
    per_pull: int, blank_mm: tuple[float, float], stock: StockSettings, *, pull_s: float | None
) -> Way:
    """Count one way.

    Parameters
    ----------
    per_pull : parts from one pull
    blank_mm : width and depth of the sheet
    stock : the table [stock]
    pull_s : heating and cooling of a pull

    Returns
    -------
    Way
    """
    layout = laid_on(stock, blank_mm)
    pulls = stock.blanks_for(per_pull)
    per_sheet = len(layout.pieces)
    return Way(
        per_pull=per_pull,
        blank_mm=blank_mm,
        per_sheet=per_sheet,
        pulls=pulls,
        sheets=math.ceil(pulls / per_sheet) if per_sheet else 0,
        used_share=layout.used_share,
        sheet_m2_per_part=blank_mm[0] * blank_mm[1] * 1e-6 / per_pull,
        hours=None if pull_s is None else pulls * (pull_s + _HANDLING_S) / 3600.0,
    )
