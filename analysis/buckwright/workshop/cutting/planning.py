"""Sheets, waste, mass and cost for a number of parts, and what another size of blank would do."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from buckwright.workshop.cutting.cut_order import Cutting, cut_order
from buckwright.workshop.cutting.nesting import Layout, Piece, nest
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.cutting.together import Demand, Together, nest_together

__all__ = ["OWN", "CuttingPlan", "Neighbour", "laid_on", "plan_cutting"]

# Blanks that differ by no more than this share of their sides count as neighbours: house rule.
_NEIGHBOUR_SHARE = 0.2
_NEIGHBOUR_STEP_MM = 5.0
_MOST_NEIGHBOURS = 3
OWN = "this job"
"""What blanks of the job itself are called beside those of others."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another size of blank: its sides, how many go on a sheet, how much less gap each side has, mm."""

    blank_mm: tuple[float, float]
    per_sheet: int
    less_gap_mm: float


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """How the blanks are cut.

    Attributes
    ----------
    blank_mm : width and depth of a blank
    layout : blanks on one stock sheet
    blanks : how many are needed, spares included
    sheets : stock sheets needed; 0 where the blank is larger than the stock
    blank_kg : mass of a blank
    cost_per_part : of the sheet, in the price's currency; None without a price
    neighbours : smaller blanks that go more often on a sheet, the largest first
    cutting : how a sheet that is full is cut, in order
    together : with the blanks of other jobs; None where there are none
    together_cuts : how each different sheet of those is cut
    """

    blank_mm: tuple[float, float]
    layout: Layout
    blanks: int
    sheets: int
    blank_kg: float
    cost_per_part: float | None
    neighbours: tuple[Neighbour, ...]
    cutting: Cutting
    together: Together | None = None
    together_cuts: tuple[Cutting, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The section `cutting` of the report."""
        return {
            "blank_mm": self.blank_mm,
            "stock_mm": self.layout.stock_mm,
            "per_sheet": len(self.layout.pieces),
            "used_share": self.layout.used_share,
            "through_cuts": self.layout.through,
            "blanks": self.blanks,
            "sheets": self.sheets,
            "blank_kg": self.blank_kg,
            "cost_per_part": self.cost_per_part,
            "pieces": [_piece(piece) for piece in self.layout.pieces],
            "neighbours": [asdict(one) for one in self.neighbours],
            "cuts": _cuts(self.cutting),
            "locked": self.cutting.locked,
            "together": self._together(),
        }

    def _together(self) -> dict[str, Any] | None:
        if self.together is None:
            return None
        return {
            "sheets": self.together.count,
            "least": self.together.least,
            "layouts": [
                {
                    "count": sheet.count,
                    "pieces": [{"for": one.name, **_piece(one.piece)} for one in sheet.pieces],
                    "cuts": _cuts(cutting),
                }
                for sheet, cutting in zip(self.together.sheets, self.together_cuts)
            ],
        }


def _piece(piece: Piece) -> dict[str, float]:
    return {"x_mm": piece.x, "y_mm": piece.y, "width_mm": piece.width_mm, "depth_mm": piece.depth_mm}


def _cuts(cutting: Cutting) -> list[dict[str, Any]]:
    return [asdict(cut) for cut in cutting.cuts]


def plan_cutting(
    blank_mm: tuple[float, float],
    stock: StockSettings,
    *,
    thickness_mm: float,
    density_kg_m3: float,
    gap_mm: float = math.inf,
    per_blank: int = 1,
) -> CuttingPlan:
    """Plan how blanks are cut from stock.

    Parameters
    ----------
    blank_mm : width and depth of a blank
    stock : the table [stock]
    thickness_mm, density_kg_m3 : of the sheet
    gap_mm : least gap between base and frame; neighbours keep half of it
    per_blank : parts that are formed from one blank

    Returns
    -------
    CuttingPlan

    Raises
    ------
    InputError
        Blanks of other jobs do not go on the stock.
    """
    layout = laid_on(stock, blank_mm)
    per_sheet = len(layout.pieces)
    blanks = stock.blanks_for(per_blank)
    sheets = math.ceil(blanks / per_sheet) if per_sheet else 0
    area_m2 = blank_mm[0] * blank_mm[1] / 1e6
    together = _together(blank_mm, blanks, stock) if sheets else None
    return CuttingPlan(
        blank_mm=blank_mm,
        layout=layout,
        blanks=blanks,
        sheets=sheets,
        blank_kg=area_m2 * thickness_mm / 1e3 * density_kg_m3,
        cost_per_part=_cost_per_part(stock, sheets, together),
        neighbours=_neighbours(blank_mm, per_sheet, stock, gap_mm),
        cutting=_order(layout.pieces, stock),
        together=together,
        together_cuts=()
        if together is None
        else tuple(_order([one.piece for one in sheet.pieces], stock) for sheet in together.sheets),
    )


def _order(pieces: Sequence[Piece], stock: StockSettings) -> Cutting:
    return cut_order(pieces, stock.stock_mm, saw_gap_mm=stock.saw_gap_mm)


def _together(blank_mm: tuple[float, float], blanks: int, stock: StockSettings) -> Together | None:
    """With other jobs' blanks; None where there are none."""
    if not stock.also_mm:
        return None
    others = [
        Demand(f"{width:g} x {depth:g}", (width, depth), count) for (width, depth), count in stock.also_mm
    ]
    return nest_together(
        [Demand(OWN, blank_mm, blanks), *others],
        stock.stock_mm,
        saw_gap_mm=stock.saw_gap_mm,
        may_turn=not stock.keep_direction,
    )


def _cost_per_part(stock: StockSettings, sheets: int, together: Together | None) -> float | None:
    """Of the sheets that are bought; with other jobs a share of them by area."""
    if stock.price is None or not sheets:
        return None
    if together is None:
        return sheets * stock.price / stock.parts
    return together.count * stock.price * _share(together) / stock.parts


def _share(together: Together) -> float:
    """Share of all blanks' area that is this job's."""
    areas: dict[bool, float] = {True: 0.0, False: 0.0}
    for sheet in together.sheets:
        for one in sheet.pieces:
            areas[one.name == OWN] += sheet.count * one.piece.width_mm * one.piece.depth_mm
    return areas[True] / (areas[True] + areas[False])


def laid_on(stock: StockSettings, blank_mm: tuple[float, float]) -> Layout:
    """Blanks on one stock sheet, cut and turned as the settings allow.

    Parameters
    ----------
    stock : the table [stock]
    blank_mm : width and depth of a blank

    Returns
    -------
    Layout
    """
    return nest(
        blank_mm,
        stock.stock_mm,
        saw_gap_mm=stock.saw_gap_mm,
        may_turn=not stock.keep_direction,
        free=stock.cutting == "free",
    )


def _neighbours(
    blank_mm: tuple[float, float], per_sheet: int, stock: StockSettings, gap_mm: float
) -> tuple[Neighbour, ...]:
    """For each higher count the blank that is least smaller on both sides alike."""
    most = min(min(blank_mm) * _NEIGHBOUR_SHARE, gap_mm)
    found: list[Neighbour] = []
    for step in range(1, int(most / _NEIGHBOUR_STEP_MM) + 1):
        less = step * _NEIGHBOUR_STEP_MM
        size = (blank_mm[0] - less, blank_mm[1] - less)
        count = len(laid_on(stock, size).pieces)
        if count > max([per_sheet, *(one.per_sheet for one in found)]):
            found.append(Neighbour(size, count, less / 2.0))
    return tuple(found[:_MOST_NEIGHBOURS])
