"""What the job sheet says of cutting stock: every cut in order."""

from collections.abc import Mapping, Sequence
from typing import Any

from buckwright.findings import counted

__all__ = ["cut_lines", "cut_steps"]

_MOST_CUTS = 24


def cut_steps(report: Mapping[str, Any]) -> list[str]:
    """Cuts of a stock sheet in the order in which they are made.

    Parameters
    ----------
    report : plain values, as report.json holds them

    Returns
    -------
    list of lines; empty where nothing is cut
    """
    cutting = report.get("cutting")
    if not cutting or not cutting["sheets"]:
        return []
    together = cutting.get("together")
    if together is None:
        return [*cut_lines(cutting.get("cuts", ())), *_rest(cutting.get("locked", 0))]
    steps = []
    for layout in together["layouts"]:
        names = [one["for"] for one in layout["pieces"]]
        held = ", ".join(f"{names.count(name)} for {name}" for name in dict.fromkeys(names))
        steps.append(f"{counted(layout['count'], 'sheet')} with {held}:")
        steps += cut_lines(layout["cuts"])
    return steps


def cut_lines(cuts: Sequence[Mapping[str, Any]]) -> list[str]:
    """Cuts in words, in order; of many the first ones.

    Parameters
    ----------
    cuts : `across`, `at_mm`, `start_mm` and `end_mm` of each

    Returns
    -------
    list of lines
    """
    lines = [f"Cut {n}: {_words(cut)}" for n, cut in enumerate(cuts[:_MOST_CUTS], 1)]
    more = len(cuts) - _MOST_CUTS
    return lines if more <= 0 else [*lines, f"and {counted(more, 'cut')} more, which stand in the report"]


def _words(cut: Mapping[str, Any]) -> str:
    own, other = ("x", "y") if cut["across"] else ("y", "x")
    span = f"from {other} {cut['start_mm']:.1f} to {cut['end_mm']:.1f}"
    return f"at {own} {cut['at_mm']:.1f} mm, {span}"


def _rest(locked: int) -> list[str]:
    if not locked:
        return []
    return [f"{counted(locked, 'blank')} lock into one another: cut them out with a router or a jigsaw"]
