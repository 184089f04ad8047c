"""A plot of openings side by side, as SVG: thickness, webs and blanks a sheet over the gap.

Lines differ in pattern and mark, not in colour, so that they can be told apart in black and white.
"""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

__all__ = ["gap_plot", "gap_rows"]

_LEFT, _WIDTH, _PANEL, _SPACE, _TOP = 70.0, 400.0, 110.0, 46.0, 30.0
_PANELS = (
    ("Thickness, mm", (("thin_mm", "", "thin places"), ("mean_mm", "6 4", "mean"))),
    ("Webs, mm", (("web_mm", "", "all webs"),)),
    ("Blanks a sheet", (("per_sheet", "", "blanks"),)),
)


def gap_rows(gaps: Mapping[str, Any]) -> tuple[list[str], list[list[str]]]:
    """Heads and rows of the table; the row to choose carries a mark.

    Parameters
    ----------
    gaps : the section `gaps` of the report

    Returns
    -------
    list of heads, list of rows
    """
    heads = ["Gap mm", "Thin mm", "Mean mm", "Webs mm", "Blank mm", "A sheet", "Used", "Cost a part"]
    rows = []
    for n, row in enumerate(gaps["rows"]):
        cost = row["cost_per_part"]
        rows.append(
            [
                f"{row['gap_mm']:.0f}{' (choose)' if n == gaps['chosen'] else ''}",
                f"{row['thin_mm']:.2f}",
                f"{row['mean_mm']:.2f}",
                f"{row['web_mm']:.0f}",
                f"{row['blank_mm'][0]:.0f} x {row['blank_mm'][1]:.0f}",
                f"{row['per_sheet']}",
                f"{row['used_share']:.0%}",
                "" if cost is None else f"{cost:.2f}",
            ]
        )
    return heads, rows


def gap_plot(gaps: Mapping[str, Any]) -> str:
    """Draw the openings.

    Parameters
    ----------
    gaps : the section `gaps` of the report, with at least two rows

    Returns
    -------
    str : one SVG element; empty with fewer rows
    """
    rows = gaps["rows"]
    if len(rows) < 2:
        return ""
    low, high = rows[0]["gap_mm"], rows[-1]["gap_mm"]
    across = [_LEFT + _WIDTH * (row["gap_mm"] - low) / ((high - low) or 1.0) for row in rows]
    parts = [
        _panel(_TOP + n * (_PANEL + _SPACE), title, lines, rows, across)
        for n, (title, lines) in enumerate(_PANELS)
    ]
    foot = _TOP + len(_PANELS) * (_PANEL + _SPACE) - _SPACE
    if gaps["chosen"] is not None:
        x = across[gaps["chosen"]]
        parts.append(
            f'<line x1="{x:.1f}" y1="{_TOP:.1f}" x2="{x:.1f}" y2="{foot:.1f}" stroke-dasharray="2 3"/>'
            f"{_words(x, _TOP - 14.0, 'choose', anchor='middle')}"
        )
    parts += [_words(x, foot + 16.0, f"{row['gap_mm']:.0f}", anchor="middle") for x, row in zip(across, rows)]
    parts.append(_words(_LEFT + _WIDTH / 2.0, foot + 34.0, "gap to the frame, mm", anchor="middle"))
    text = "Thickness, webs and blanks a sheet over the gap to the frame"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_LEFT + _WIDTH + 110.0:g} {foot + 44.0:g}" '
        f'role="img" aria-label="{text}" fill="none" stroke="currentColor" font-family="sans-serif" '
        f'font-size="12">{"".join(parts)}</svg>'
    )


def _panel(
    top: float,
    title: str,
    lines: Sequence[tuple[str, str, str]],
    rows: Sequence[Mapping[str, Any]],
    across: Sequence[float],
) -> str:
    most = max(row[key] for row in rows for key, _, _ in lines) or 1.0
    foot = top + _PANEL
    parts = [
        f'<path d="M{_LEFT:g} {top:g}V{foot:g}H{_LEFT + _WIDTH:g}"/>',
        _words(_LEFT, top - 6.0, title),
        _words(_LEFT - 6.0, top + 8.0, f"{most:.3g}", anchor="end"),
        _words(_LEFT - 6.0, foot, "0", anchor="end"),
    ]
    for key, dashes, name in lines:
        places = [(x, foot - _PANEL * row[key] / most) for x, row in zip(across, rows)]
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        parts.append(f'<polyline points="{points}" stroke-width="1.5"{dashed}/>')
        parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3"/>' for x, y in places]
        parts.append(_words(places[-1][0] + 8.0, places[-1][1] + 4.0, name))
    return "".join(parts)


def _words(x: float, y: float, text: str, *, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="currentColor" stroke="none">'
        f"{escape(text)}</text>"
    )
