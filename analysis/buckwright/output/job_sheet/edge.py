"""What the job sheet says of the edge of the part, and of holes in it."""

from collections.abc import Mapping, Sequence
from typing import Any

from buckwright.findings import counted

__all__ = ["drill_steps", "edge_rows", "trim_step", "trim_words"]

_OVERLAP_MM = 15.0
_FROM = {"forecast": "on the forecast sheet", "wall": "on the wall of the buck"}
_KINDS = {"rivet": "rivet hole", "slot": "strap slot", "fan": "fan hole"}


def edge_rows(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Rows of label and words.

    Parameters
    ----------
    report : plain values, as report.json holds them

    Returns
    -------
    list of label and words; the length alone where nothing else is known of the edge
    """
    edge, drawn = report.get("edge"), report.get("templates")
    if not edge:
        return [("Trim line, length", f"{drawn['trim_line_mm']:.0f} mm")] if drawn else []
    rows = [
        ("Trim line, length", f"{edge['trim_line_mm']:.0f} mm, {_FROM[edge['from']]}"),
        ("Border strip", f"{edge['outside_mm'] + _OVERLAP_MM:.0f} mm with {_OVERLAP_MM:g} mm of overlap"),
        ("Height gauge", f"{edge['gauge_mm']:.1f} mm over what the rim lies on"),
    ]
    if edge["rises_mm"]:
        words = f"by up to {edge['rises_mm']:.1f} mm over a body; the paper strip lies on the ledge"
        rows[-1] = ("Trim line rises", words)
    if edge["profile_size_mm"]:
        size = " x ".join(f"{side:.0f}" for side in edge["profile_size_mm"])
        rows.append(("Printed edge", f"edge.stl, {size} mm, of a flexible filament"))
    rows += _floor_rows("Opening {}, cut out", edge.get("openings") or ())
    return rows + _floor_rows("Body {}, if cut out by itself", edge.get("islands") or ())


def trim_words(base: Mapping[str, Any]) -> str:
    """Where the trim line is.

    Parameters
    ----------
    base : the entry of the report
    """
    if base["style"] == "female":
        return f"in the cavity, {base['riser_mm']:.1f} mm under the land"
    if base["style"] == "plinth":
        where = "where the part meets the land"
    else:
        where = "the ledge on the wall" if base["trim_step_mm"] else "without a ledge"
    return f"{base['trim_z_mm']:.1f} mm over the platen, {where}"


def trim_step(base: Mapping[str, Any], edge: Mapping[str, Any]) -> str:
    """How the part is cut.

    Parameters
    ----------
    base, edge : the entries of the report; the latter may be empty
    """
    height = f"{base['trim_z_mm']:.1f} mm over the platen"
    if base["style"] == "female":
        return f"Trim {base['riser_mm']:.1f} mm under the flat of the rim: cut nearer to the rim first."
    if edge.get("rises_mm"):
        return (
            f"Lay the paper strip on the ledge, {height}, and trim along its upper edge, which rises by up "
            f"to {edge['rises_mm']:.1f} mm: cut below it first."
        )
    if base["style"] == "plinth":
        return f"Trim where the part meets the land, {height}: cut outside it first."
    if base["trim_step_mm"]:
        return f"Trim along the ledge, {height}: cut outside it first."
    return f"Mark the trim line {height}, as there is no ledge, and cut outside it first."


def _floor_rows(label: str, rims: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    rows = []
    for n, one in enumerate(rims, 1):
        strip = f"border strip {one['outside_mm'] + _OVERLAP_MM:.0f} mm"
        gauge = f"{one['gauge_mm']:.1f} mm over its floor"
        rows.append((label.format(n), f"trim line {one['trim_line_mm']:.0f} mm, {gauge}; {strip}"))
    return rows


def drill_steps(report: Mapping[str, Any]) -> list[str]:
    """Steps of drilling; none without holes.

    Parameters
    ----------
    report : plain values, as report.json holds them

    Returns
    -------
    list of lines
    """
    kinds = [hole["kind"] for hole in report.get("holes") or ()]
    if not kinds:
        return []
    each = ", ".join(counted(kinds.count(kind), _KINDS[kind]) for kind in dict.fromkeys(kinds))
    steps = [f"Drill {each} at the pips: a step drill, wood behind the sheet, square to the wall."]
    if "slot" in kinds:
        steps.append("Slots: drill both ends, then cut from hole to hole.")
    return steps
