"""Openings side by side: how thin the part gets, how much web there is, blank, pieces a sheet, cost."""

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from buckwright.workshop.cutting.planning import laid_on
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.rig.planning import gripped

__all__ = ["GapRow", "Weighed", "csv_bytes", "read_forecast", "weigh"]

# Within this share of the best thickness an opening is as good: forecasts are no finer. House rule.
_AS_THICK = 0.95
# Web within this length of the least is no more, mm: house rule.
_AS_LITTLE_WEB_MM = 5.0
_HEADS = (
    *("gap_mm", "frame_width_mm", "frame_depth_mm", "thin_mm", "mean_mm", "web_mm"),
    *("blank_width_mm", "blank_depth_mm", "per_sheet", "used_share", "sheets", "cost_per_part", "chosen"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GapRow:
    """One opening.

    Attributes
    ----------
    gap_mm : between base and frame
    frame_mm : clear width and depth of the opening
    thin_mm : a twentieth of the part is thinner
    mean_mm : of the part
    web_mm : length of all webs
    blank_mm : width and depth of the sheet
    per_sheet : blanks from one stock sheet
    used_share : share of the stock that becomes blanks
    sheets : stock sheets for all parts and spares; 0 where the blank does not go on the stock
    cost_per_part : of the sheet; None without a price
    """

    gap_mm: float
    frame_mm: tuple[float, float]
    thin_mm: float
    mean_mm: float
    web_mm: float
    blank_mm: tuple[float, float]
    per_sheet: int
    used_share: float
    sheets: int
    cost_per_part: float | None


@dataclass(frozen=True, slots=True)
class Weighed:
    """Openings side by side.

    Attributes
    ----------
    rows : from narrow to wide
    chosen : place of the one to choose among them; None where no blank goes on the stock
    reason : why, one sentence
    """

    rows: tuple[GapRow, ...]
    chosen: int | None
    reason: str

    def to_dict(self) -> dict[str, Any]:
        """The section `gaps` of the report."""
        rows = [{one.name: _plain(getattr(row, one.name)) for one in fields(row)} for row in self.rows]
        return {"rows": rows, "chosen": self.chosen, "reason": self.reason}


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def read_forecast(row: Mapping[str, float]) -> dict[str, Any]:
    """What a forecast of one opening says; the one place that knows the forecast's words.

    Parameters
    ----------
    row : of the forecast's own table of gaps

    Returns
    -------
    dict : the fields of `GapRow` that a forecast decides
    """
    return {
        "gap_mm": float(row["gap_mm"]),
        "frame_mm": (float(row["frame_width_mm"]), float(row["frame_depth_mm"])),
        "thin_mm": float(row["thin_mm"]),
        "mean_mm": float(row["mean_mm"]),
        "web_mm": float(row["web_length_mm"]),
    }


def weigh(forecasts: Sequence[Mapping[str, Any]], stock: StockSettings, *, grip_mm: float) -> Weighed:
    """Set openings side by side.

    Parameters
    ----------
    forecasts : from `read_forecast`, one for each opening
    stock : the table [stock]
    grip_mm : width of sheet under the clamp

    Returns
    -------
    Weighed

    Notes
    -----
    Chosen is the opening that gives the most blanks a sheet, then the smallest blank, among those in which
    the thin places are within 5 % of the best and the webs are no longer than the least by 5 mm. Where none
    has both, the webs are left out of it. House rules.
    """
    rows = tuple(_row(one, stock, grip_mm) for one in sorted(forecasts, key=lambda one: float(one["gap_mm"])))
    chosen, reason = _choice(rows)
    return Weighed(rows, chosen, reason)


def _row(formed: Mapping[str, Any], stock: StockSettings, grip_mm: float) -> GapRow:
    blank = gripped(formed["frame_mm"], grip_mm)
    layout = laid_on(stock, blank)
    per_sheet = len(layout.pieces)
    sheets = math.ceil(stock.blanks_for() / per_sheet) if per_sheet else 0
    # what a part needs of a sheet, whether or not whole sheets are used up now
    share = (1.0 + stock.spare_share) / per_sheet if per_sheet else 0.0
    return GapRow(
        **formed,
        blank_mm=blank,
        per_sheet=per_sheet,
        used_share=layout.used_share,
        sheets=sheets,
        cost_per_part=None if stock.price is None or not per_sheet else stock.price * share,
    )


def _choice(rows: tuple[GapRow, ...]) -> tuple[int | None, str]:
    able = [row for row in rows if row.per_sheet]
    if not able:
        return None, "No blank goes on the stock sheet: choose larger stock or a narrower gap."
    best = max(row.thin_mm for row in able)
    thick = [row for row in able if row.thin_mm >= _AS_THICK * best]
    least = min(row.web_mm for row in able)
    quiet = [row for row in thick if row.web_mm <= least + _AS_LITTLE_WEB_MM]
    row = min(quiet or thick, key=lambda one: (-one.per_sheet, one.blank_mm[0] * one.blank_mm[1]))
    widest = able[-1]
    words = (
        f"A gap of {row.gap_mm:.0f} mm: its thin places, {row.thin_mm:.2f} mm, are within 5 % of the best, "
        f"{best:.2f} mm, and it gives {row.per_sheet} blanks a sheet"
    )
    if row is not widest and widest.per_sheet < row.per_sheet:
        words += f" where {widest.gap_mm:.0f} mm gives {widest.per_sheet}"
    webs = (
        "" if quiet else f"; webs are {row.web_mm - least:.0f} mm longer than in the opening with the least"
    )
    return rows.index(row), f"{words}{webs}."


def csv_bytes(weighed: Weighed) -> bytes:
    """The table as CSV with a head; pairs take two columns.

    Parameters
    ----------
    weighed : from `weigh`

    Returns
    -------
    bytes : UTF-8, lines end as RFC 4180 has it
    """
    file = io.StringIO()
    table = csv.writer(file)
    table.writerow(_HEADS)
    for n, row in enumerate(weighed.rows):
        lengths = (row.gap_mm, *row.frame_mm, row.thin_mm, row.mean_mm, row.web_mm, *row.blank_mm)
        cost = "" if row.cost_per_part is None else f"{row.cost_per_part:.2f}"
        table.writerow(
            [
                *(f"{value:.3f}" for value in lengths),
                row.per_sheet,
                f"{row.used_share:.4f}",
                row.sheets,
                cost,
                int(n == weighed.chosen),
            ]
        )
    return file.getvalue().encode("utf-8")
