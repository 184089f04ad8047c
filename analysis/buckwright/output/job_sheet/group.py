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
    others = group.get("others") or ()
    each = "".join(f", {one['copies']} of {one['name']}" for one in others)
    if others and not group["fits"]:
        most = "".join(f", {one['most']} of {one['name']}" for one in others)
        state = f"do not fit: {group['most']} of this one{most} would"
    this = " of this one" if others else ""
    rows = [("Bucks in one pull", f"{group['copies']}{this}{each} {state}; {distances}")]
    rows += _between_rows(report.get("group_forecast"))
    for way in group["ways"]:
        hours = "" if way["hours"] is None else f", {way['hours']:.1f} h"
        sheets = counted(way["sheets"], "stock sheet") if way["sheets"] else "larger stock needed"
        each = way.get("sheet_m2_per_part")
        sheets += "" if each is None else f", {each * 1e4:.0f} cm2 of sheet a part"
        size = f"{way['blank_mm'][0]:.0f} x {way['blank_mm'][1]:.0f} mm"
        words = f"blank {size}, {counted(way['pulls'], 'pull')}, {sheets}{hours}"
        rows.append((f"{way['per_pull']} in one pull", words))
    return rows


def _between_rows(formed: Mapping[str, Any] | None) -> list[tuple[str, str]]:
    if not formed:
        return []
    webs = formed["webs_between"]
    words = counted(len(webs), "web") if webs else "no web"
    if formed["between"]:
        highest = formed["between"][0]
        words += f"; the sheet comes down to {max(highest['lowest_mm'], 0.0):.0f} mm over the platen"
    return [("Between the bucks", f"{words}, as forecast over all of them")]
