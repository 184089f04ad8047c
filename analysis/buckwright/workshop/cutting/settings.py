"""Settings of the stock that blanks are cut from."""

import math
from typing import Literal

import attrs

from buckwright.errors import JobError
from buckwright.settings import choice, number, pair, switch, text, whole

__all__ = ["StockSettings"]

_LEAST_MM, _MOST_MM, _MOST_BLANKS = 10.0, 10_000.0, 2_000


@attrs.frozen(kw_only=True)
class StockSettings:
    """Stock: the sheets that blanks are cut from, and how many parts are wanted."""

    stock_mm: tuple[float, float] = pair(
        (1220.0, 610.0),
        low=20,
        high=10_000,
        unit="mm",
        label="Stock Sheet",
        tip="Width and depth of the sheets as they are bought; the width runs along the extrusion",
        preset="sheet",
    )
    parts: int = whole(
        1, low=1, high=100_000, label="Parts", tip="How many good parts are wanted", front=True
    )
    spare_share: float = number(
        0.1,
        low=0,
        high=2,
        label="Spare",
        tip="Share of further blanks for trial pulls and scrap",
    )
    saw_gap_mm: float = number(
        3.0,
        low=0,
        high=50,
        unit="mm",
        label="Saw Gap",
        tip="Width of sheet that a cut takes; 0 for shears or scoring",
    )
    cutting: Literal["edge_to_edge", "free"] = choice(
        "edge_to_edge",
        {
            "edge_to_edge": ("Edge to Edge", "Every cut runs through: shears, scoring, a table saw"),
            "free": ("Free", "Cuts may end inside the sheet: a router or a jigsaw"),
        },
        label="Cutting",
        tip="How the stock can be cut",
    )
    keep_direction: bool = switch(
        False,
        label="Keep Direction",
        tip="Cut all blanks the same way round, as sheet shrinks more along its extrusion",
    )
    also: str = text(
        label="Also Cut",
        tip="Blanks of other jobs for the same sheets, such as 300 x 240: 4, 260 x 220: 2",
        longest=1000,
    )
    price: float | None = number(
        None,
        low=0,
        high=1_000_000,
        label="Price",
        tip="Price of one stock sheet, in any currency",
        automatic="no price",
        start=20.0,
        preset="sheet",
    )

    def __attrs_post_init__(self) -> None:
        """Refuse blanks that cannot be read."""
        _ = self.also_mm

    def blanks_for(self, per_blank: int = 1) -> int:
        """How many blanks are needed, spares included, where so many parts are formed from each."""
        return math.ceil(self.parts * (1.0 + self.spare_share) / per_blank - 1e-9)

    @property
    def also_mm(self) -> tuple[tuple[tuple[float, float], int], ...]:
        """Width and depth of each other blank, and how many of it."""
        return tuple(_blanks(entry) for entry in self.also.split(",") if entry.strip())


def _blanks(entry: str) -> tuple[tuple[float, float], int]:
    sides, _, count = entry.lower().replace("mm", "").partition(":")
    try:
        width, depth = (float(side) for side in sides.split("x"))
        many = int(count) if count.strip() else 1
    except ValueError:
        width = depth = many = -1
    if not (_LEAST_MM <= width <= _MOST_MM and _LEAST_MM <= depth <= _MOST_MM and 1 <= many <= _MOST_BLANKS):
        raise JobError(
            f"stock.also: {entry.strip()!r} names no blanks; write width and depth in mm and how many, "
            "parted by commas: 300 x 240: 4, 260 x 220: 2"
        )
    return (width, depth), many
