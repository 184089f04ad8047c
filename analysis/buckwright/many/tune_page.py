"""The page of a search: the best three with pictures, the trade as a plot, every variant in a table."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any
from urllib.parse import quote

from buckwright.many.judging import Compared, Judged
from buckwright.output.job_sheet.markup import document
from buckwright.stages import all_settings

__all__ = ["setting_words", "trade_plot", "tune_page"]

_STYLE = (
    "<style>body{max-width:none}table.many th,table.many td{padding:.25rem .5rem;"
    "border:1px solid var(--line);width:auto}table.many thead th{background:var(--soft);font-size:.8rem}"
    "table.many td{text-align:right;white-space:nowrap}td b{font-weight:700}"
    ".best{display:grid;grid-template-columns:repeat(auto-fit,minmax(20rem,1fr));gap:1rem}"
    ".best img{width:100%}</style>"
)
_MARKS = {"better": "+", "worse": "−", "as good": "", "": ""}
_PICTURES = ("buck_slant.png", "forecast_top.png")
_WIDTH, _HEIGHT, _LEFT, _FOOT = 460.0, 260.0, 60.0, 40.0
_ACROSS, _UP = "blank_cm2", "weakest_mm"
_SHOWN = 3


def setting_words(changes: Mapping[str, Any]) -> str:
    """Changes as people read them: 'Riser 18 mm, Fill None'; 'As it is set' where there are none."""
    settings = all_settings()
    parts = []
    for name, value in changes.items():
        one = settings[name]
        word = isinstance(value, str) and value in one.words
        told = one.words[value][0] if word else _told(value)
        parts.append(f"{one.label} {told}{f' {one.unit}' if one.unit and not word else ''}")
    return ", ".join(parts) or "As it is set"


def _told(value: Any) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, list | tuple):
        return " x ".join(_told(part) for part in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def tune_page(
    title: str,
    ranked: Sequence[Judged],
    own: Judged,
    titles: Mapping[str, str],
    left: str,
    pictured: Mapping[str, str],
) -> bytes:
    """Draw up the page.

    Parameters
    ----------
    title : of the job
    ranked : variants, the best first
    own : the job as it is set
    titles : what each variant changes, by its name
    left : what no variant is free of, in words
    pictured : folder with the pictures of a variant, by its name

    Returns
    -------
    bytes : UTF-8
    """
    heads = ["", "Changed", *(_head(one) for one in own.compared), "Faults"]
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in heads)
    rows = "".join(_row(n, one, own, titles[one.name]) for n, one in enumerate(ranked, 1))
    best = "".join(
        _card(n, one, titles[one.name], pictured.get(one.name)) for n, one in enumerate(ranked[:_SHOWN], 1)
    )
    body = (
        _STYLE,
        f"<h1>{escape(title)}: variants compared</h1>",
        f'<p class="lead">{len(ranked)} variants. + is better, − is worse than the job as it is set; '
        "what differs by less than its band counts as alike, webs by less than a tenth. To use one: in "
        "Blender, click one of the best three; in a terminal, 'buckwright tune JOB --take N' writes a job "
        "file with the changes of variant N.</p>",
        f'<p class="lead">{escape(left)}</p>' if left else "",
        f'<div class="best">{best}</div>',
        f'<figure style="max-width:40rem">{trade_plot(ranked, own)}</figure>',
        f'<div class="scroll"><table class="many"><thead><tr>{head}</tr></thead><tbody>\n{rows}</tbody>'
        "</table></div>",
    )
    return document(f"{title}: variants compared", body)


def _head(one: Compared) -> str:
    return f"{one.figure.label}, {one.figure.unit}" if one.figure.unit else one.figure.label


def _row(number: int, one: Judged, own: Judged, title: str) -> str:
    by_name = {entry.figure.name: entry for entry in one.compared}
    cells = [f'<th scope="row">{number}</th><th scope="row">{escape(title)}</th>']
    for mine in own.compared:
        entry = by_name.get(mine.figure.name)
        value = "" if entry is None or entry.value is None else f"{entry.value:.{mine.figure.digits}f}"
        mark = "" if entry is None else _MARKS[entry.verdict]
        cells.append(f"<td>{value}{f' <b>{mark}</b>' if mark else ''}</td>")
    cells.append(f"<td>{escape('; '.join(one.faults))}</td>")
    return f"<tr>{''.join(cells)}</tr>\n"


def _card(number: int, one: Judged, title: str, folder: str | None) -> str:
    pictures = "" if folder is None else "".join(_picture(f"{quote(folder)}/{name}") for name in _PICTURES)
    faults = f"<p>Faults: {escape('; '.join(one.faults))}.</p>" if one.faults else ""
    words = f"<p>{escape(one.words)}</p>"
    return f"<section><h2>{number}. {escape(title)}</h2>{pictures}{words}{faults}</section>"


def _picture(place: str) -> str:
    return f'<img src="{place}" loading="lazy" alt="{escape(place, quote=True)}">'


def trade_plot(ranked: Sequence[Judged], own: Judged) -> str:
    """Thickness of the weakest spot over the sheet that it takes, as SVG; empty where neither is known.

    The three best are numbered, the job as it is set is a square: told apart by form, not by colour.
    """
    places = {one.name: place for one in ranked if (place := _place(one)) is not None}
    if len(places) < 2:
        return ""
    xs, ys = zip(*places.values(), strict=True)
    spans = [(min(v), max(*v, min(v) * 1.01 + 1e-9)) for v in (xs, ys)]

    def at(place: tuple[float, float]) -> tuple[float, float]:
        (x0, x1), (y0, y1) = spans
        share = (place[0] - x0) / (x1 - x0), (place[1] - y0) / (y1 - y0)
        return _LEFT + 20.0 + share[0] * (_WIDTH - 40.0), _HEIGHT - 20.0 - share[1] * (_HEIGHT - 40.0)

    parts = [f'<path d="M{_LEFT:g} 0V{_HEIGHT:g}H{_LEFT + _WIDTH:g}"/>']
    numbers = {one.name: str(n) for n, one in enumerate(ranked[:_SHOWN], 1)}
    for name, place in places.items():
        parts.append(_mark(*at(place), numbers.get(name, ""), square=name == own.name))
    for n, (low, high) in enumerate(spans):
        for value in (low, high):
            x, y = at((value, spans[1][0]) if n == 0 else (spans[0][0], value))
            digits = f"{value:.0f}" if n == 0 else f"{value:.2f}"
            parts.append(
                _words(x, _HEIGHT + 16.0, digits, "middle")
                if n == 0
                else _words(_LEFT - 6.0, y + 4.0, digits, "end")
            )
    parts.append(_words(_LEFT + _WIDTH / 2.0, _HEIGHT + 34.0, "blank, cm2 (less is better)", "middle"))
    parts.append(_words(_LEFT + 4.0, 12.0, "weakest spot, mm (more is better)", "start"))
    text = "Thickness of the weakest spot over the sheet that it takes"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_LEFT + _WIDTH + 20.0:g} '
        f'{_HEIGHT + _FOOT:g}" role="img" aria-label="{text}" fill="none" stroke="currentColor" '
        f'font-family="sans-serif" font-size="12">{"".join(parts)}</svg>'
        f"<figcaption>{text}. Square: the job as it is set; numbers: the best three.</figcaption>"
    )


def _place(one: Judged) -> tuple[float, float] | None:
    values = {entry.figure.name: entry.value for entry in one.compared}
    across, up = values.get(_ACROSS), values.get(_UP)
    return None if across is None or up is None else (across, up)


def _mark(x: float, y: float, number: str, *, square: bool) -> str:
    form = (
        f'<rect x="{x - 6:.1f}" y="{y - 6:.1f}" width="12" height="12" stroke-width="2"/>'
        if square
        else f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{5 if number else 3}"/>'
    )
    return form + (_words(x + 9.0, y - 7.0, number, "start") if number else "")


def _words(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="currentColor" stroke="none">'
        f"{escape(text)}</text>"
    )
