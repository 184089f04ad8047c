"""What the parts of a set share: the sheets that their blanks are cut from, and the frames."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from buckwright.errors import InputError
from buckwright.forming.forecast.buck_forecast import frame_round
from buckwright.job import Job
from buckwright.many.project.reading import SetPart
from buckwright.workshop.cutting.cut_order import Cutting, cut_order
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.cutting.together import Demand, Together, nest_together

__all__ = ["FrameOf", "SharedSheet", "common_frame", "frames_of", "sheets_of"]

_SAME_MM = 0.5
"""Openings that differ by less are one frame: house rule."""


@dataclass(frozen=True, slots=True)
class SharedSheet:
    """Stock of one kind that serves several parts.

    Attributes
    ----------
    material, thickness_mm : the sheet
    stock : how it is bought and cut
    parts : titles of the parts that are cut from it
    alone : sheets that it would take if every part were cut by itself
    together : what lies on each sheet
    cuts : how each different sheet is cut
    """

    material: str
    thickness_mm: float
    stock: StockSettings
    parts: tuple[str, ...]
    alone: int
    together: Together
    cuts: tuple[Cutting, ...]

    @property
    def cost(self) -> float | None:
        """Of all sheets, in the price's currency; None without a price."""
        return None if self.stock.price is None else self.together.count * self.stock.price

    def to_dict(self) -> dict[str, Any]:
        """Plain values for set.json."""
        return {
            "material": self.material,
            "thickness_mm": self.thickness_mm,
            "stock_mm": self.stock.stock_mm,
            "parts": list(self.parts),
            "sheets": self.together.count,
            "least": self.together.least,
            "alone": self.alone,
            "cost": self.cost,
            "layouts": [
                {
                    "count": sheet.count,
                    "pieces": [{"for": one.name, **asdict(one.piece)} for one in sheet.pieces],
                    "cuts": [asdict(cut) for cut in cutting.cuts],
                }
                for sheet, cutting in zip(self.together.sheets, self.cuts, strict=True)
            ],
        }


@dataclass(frozen=True, slots=True)
class FrameOf:
    """A frame and the parts that it serves.

    Attributes
    ----------
    opening_mm : clear width and depth
    parts : their titles
    """

    opening_mm: tuple[float, float]
    parts: tuple[str, ...]


def sheets_of(done: Sequence[tuple[SetPart, Mapping[str, Any]]]) -> list[SharedSheet]:
    """Lay the blanks of all parts of one sheet on common stock.

    Parameters
    ----------
    done : parts with their reports; those without a blank that goes on the stock are left out

    Returns
    -------
    list of SharedSheet : one for each kind of sheet and stock, in the order of the parts
    """
    kinds: dict[Any, list[tuple[SetPart, Mapping[str, Any]]]] = {}
    for part, report in done:
        cutting = report.get("cutting")
        if cutting and cutting["sheets"]:
            kinds.setdefault(_kind(part.job), []).append((part, cutting))
    return [_shared(members) for members in kinds.values()]


def _kind(job: Job) -> tuple[Any, ...]:
    """What must be the same of parts that are cut from one sheet."""
    stock = job.stock
    bought = (stock.stock_mm, stock.saw_gap_mm, stock.keep_direction, stock.price)
    return (job.sheet.material, job.sheet.thickness_mm, *bought)


def _shared(members: Sequence[tuple[SetPart, Mapping[str, Any]]]) -> SharedSheet:
    job = members[0][0].job
    stock = job.stock
    demands = [
        Demand(part.title, (float(cutting["blank_mm"][0]), float(cutting["blank_mm"][1])), cutting["blanks"])
        for part, cutting in members
    ]
    together = nest_together(
        demands, stock.stock_mm, saw_gap_mm=stock.saw_gap_mm, may_turn=not stock.keep_direction
    )
    cuts = tuple(
        cut_order([one.piece for one in sheet.pieces], stock.stock_mm, saw_gap_mm=stock.saw_gap_mm)
        for sheet in together.sheets
    )
    return SharedSheet(
        job.sheet.material,
        job.sheet.thickness_mm,
        stock,
        tuple(part.title for part, _ in members),
        sum(int(cutting["sheets"]) for _, cutting in members),
        together,
        cuts,
    )


def frames_of(done: Sequence[tuple[SetPart, Mapping[str, Any]]]) -> list[FrameOf]:
    """The frames that are needed, each with the parts that it serves.

    Parameters
    ----------
    done : parts with their reports

    Returns
    -------
    list of FrameOf : in the order of the parts; openings that hardly differ are one
    """
    frames: list[FrameOf] = []
    for part, report in done:
        rig = report.get("rig")
        if not rig:
            continue
        width, depth = (float(side) for side in rig["opening_mm"])
        for n, frame in enumerate(frames):
            if max(abs(frame.opening_mm[0] - width), abs(frame.opening_mm[1] - depth)) < _SAME_MM:
                frames[n] = FrameOf(frame.opening_mm, (*frame.parts, part.title))
                break
        else:
            frames.append(FrameOf((width, depth), (part.title,)))
    return frames


def common_frame(measured: Sequence[tuple[SetPart, Mapping[str, Any]]]) -> tuple[float, float]:
    """The smallest opening that leaves every part the gap that it would have in a frame of its own.

    Parameters
    ----------
    measured : parts with reports that hold their bucks; at least one

    Raises
    ------
    InputError
        A part names its frame or a machine, whose opening is what it is.
    """
    sides = []
    for part, report in measured:
        job = part.job
        if job.forecast.frame_mm is not None or job.machine.profile is not None:
            raise InputError(
                f"one_frame cannot choose for {part.title}, which names a frame or a machine: leave out "
                "forecast.frame_mm and machine.profile, or one_frame"
            )
        width, depth, height = (float(side) for side in report["buck"]["size_mm"])
        sides.append(frame_round((width, depth), height, job.forecast.gap_mm))
    return max(width for width, _ in sides), max(depth for _, depth in sides)
