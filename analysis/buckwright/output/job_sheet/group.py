"""What the job sheet says of several bucks in one pull."""

from collections.abc import Mapping
from typing import Any

from buckwright.findings import counted

__all__ = ["group_rows"]


def group_rows(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    """One at a time and several in one pull, side by side; none for a single buck.

    Parameters
    ----------
    report : plain values, as report.json holds them

    Returns
    -------
    list of label and words
    """
    group = report.get("group")
    if not group:
        return []
    state = "fit" if group["fits"] else f"do not fit: {group['most']} would"
    distances = f"{group['spacing_mm']:g} mm apart, {group['edge_mm']:g} mm to the frame"
    rows = [("Bucks in one pull", f"{group['copies']} {state}; {distances}")]
    for way in group["ways"]:
        hours = "" if way["hours"] is None else f", {way['hours']:.1f} h"
        sheets = counted(way["sheets"], "stock sheet") if way["sheets"] else "larger stock needed"
        size = f"{way['blank_mm'][0]:.0f} x {way['blank_mm'][1]:.0f} mm"
        words = f"blank {size}, {counted(way['pulls'], 'pull')}, {sheets}{hours}"
        rows.append((f"{way['per_pull']} in one pull", words))
    return rows
