"""What the panel of the workshop tells of a result, line by line. This module must not import Blender."""

from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["bench_lines"]


def bench_lines(report: Mapping[str, Any]) -> list[str]:
    """Opening, blank, stock, heat and edge.

    Parameters
    ----------
    report : tree of report.json; of a section that is not there nothing is said
    """
    lines = []
    if (rig := report.get("rig")) is not None:
        blank = f"blank {_by(rig['blank_mm'])} mm, {rig['grip_mm']:g} mm of grip"
        lines.append(f"Opening {_by(rig['opening_mm'])} mm, {blank}")
    if (cutting := report.get("cutting")) is not None and cutting["sheets"]:
        count, sheets = cutting["blanks"], cutting["sheets"]
        wanted = f"{sheets} for {count} blank{'' if count == 1 else 's'}"
        stock = f"a stock sheet of {_by(cutting['stock_mm'])} mm"
        each = cutting["per_sheet"]
        lines.append(f"{each} blank{'' if each == 1 else 's'} {stock}, {wanted}")
    heating = report.get("heating") or {}
    if heating.get("works") and heating.get("latest_s") is not None:
        earliest, latest = heating["earliest_s"], heating["latest_s"]
        lines.append(f"Heat {earliest:.0f} to {latest:.0f} s, best {heating['chosen_s']:.0f} s")
    if (edge := report.get("edge")) is not None:
        lines.append(f"Trim line {edge['trim_line_mm']:.0f} mm long, {edge['gauge_mm']:.1f} mm up")
    return lines


def _by(sides: Sequence[float]) -> str:
    return " x ".join(f"{side:.0f}" for side in sides)
