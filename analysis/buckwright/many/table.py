"""The table of many jobs: one row each, as CSV for programs and as a page with pictures for people."""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any
from urllib.parse import quote

from buckwright.findings import SEVERITIES
from buckwright.output.job_sheet.markup import document
from buckwright.stage import Figure
from buckwright.stages import all_settings, figures

__all__ = ["Row", "csv_bytes", "page_bytes"]

_CHIEF = ("buck_slant.png", "forecast_top.png", "look_top.png")
_MOST_PICTURES = 2
_STYLE = (
    "<style>body{max-width:none}table.many th,table.many td{padding:.25rem .5rem;"
    "border:1px solid var(--line);width:auto}table.many thead th{background:var(--soft);font-size:.8rem}"
    "table.many img{height:9rem;display:block}table.many td.number{text-align:right}"
    "table.many .off{color:inherit;opacity:.75}</style>"
)


@dataclass(frozen=True, slots=True)
class Row:
    """What there is to tell of one job.

    Attributes
    ----------
    name : of the job and its folder
    state : 'done', 'failed' or 'waiting'
    varied : what a sweep has set, by 'table.key'
    report : tree of its report; empty where there is none
    releases : None where that is not known or not judged
    wrong : why it failed
    """

    name: str
    state: str
    varied: Mapping[str, Any] = field(default_factory=dict)
    report: Mapping[str, Any] = field(default_factory=dict)
    releases: bool | None = None
    wrong: str = ""

    @property
    def worst(self) -> str:
        """The most serious finding, in words; empty where none is serious."""
        found = self.report.get("findings") or ()
        serious = [one for one in found if one["severity"] != SEVERITIES[-1]]
        return str(serious[0]["words"]) if serious else ""


def csv_bytes(rows: Sequence[Row]) -> bytes:
    """The table as CSV with a head; figures as the reports have them, none that hang on who worked it out.

    Parameters
    ----------
    rows : in the order of the table

    Returns
    -------
    bytes : UTF-8, lines end as RFC 4180 has it
    """
    varied, shown = _varied(rows), _figures(rows)
    file = io.StringIO()
    table = csv.writer(file)
    heads = [
        column
        for one in shown
        for column in (one.name, *((f"{one.name}_band",) if _banded(one, rows) else ()))
    ]
    table.writerow(["job", "state", *varied, "releases", *heads, "worst", "error"])
    for row in rows:
        values: list[Any] = []
        for one in shown:
            values.append(_plain(one.of(row.report)))
            if _banded(one, rows):
                values.append(_plain(one.band(row.report)))
        own = [_plain(row.varied.get(name)) for name in varied]
        table.writerow([row.name, row.state, *own, _yes(row.releases), *values, row.worst, row.wrong])
    return file.getvalue().encode("utf-8")


def page_bytes(title: str, rows: Sequence[Row], *, lead: str = "") -> bytes:
    """The table as a page; its pictures are those in the folders of the jobs.

    Parameters
    ----------
    title : plain text
    rows : in the order of the table
    lead : a line above the table

    Returns
    -------
    bytes : UTF-8
    """
    varied, shown = _varied(rows), _figures(rows)
    settings = all_settings()
    heads = ["Job", *(_head(settings[name].label, settings[name].unit) for name in varied), "Releases"]
    heads += [_head(one.label, one.unit) for one in shown] + ["Pictures", "To Know"]
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in heads)
    body = "".join(_row(row, varied, shown) for row in rows)
    return document(
        title,
        (
            _STYLE,
            f"<h1>{escape(title)}</h1>",
            f'<p class="lead">{escape(lead)}</p>' if lead else "",
            f'<div class="scroll"><table class="many"><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody>'
            "</table></div>",
        ),
    )


def _row(row: Row, varied: Sequence[str], shown: Sequence[Figure]) -> str:
    link = f'<a href="{quote(row.name)}/">{escape(row.name)}</a>' if row.report else escape(row.name)
    cells = [f'<th scope="row">{link}</th>']
    cells += [f'<td class="number">{escape(_plain(row.varied.get(name)))}</td>' for name in varied]
    cells.append(f"<td>{_yes(row.releases)}</td>")
    cells += [f'<td class="number">{escape(_told(one, row.report))}</td>' for one in shown]
    words = row.wrong or row.worst if row.state != "waiting" else "not done yet"
    label = "Failed: " if row.state == "failed" else ""
    cells += [f"<td>{_pictures(row)}</td>", f"<td>{label}{escape(words)}</td>"]
    return f"<tr>{''.join(cells)}</tr>\n"


def _pictures(row: Row) -> str:
    files = row.report.get("files") or {}
    names = [name for name in _CHIEF if name in files][:_MOST_PICTURES]
    return "".join(_picture(f"{quote(row.name)}/{quote(name)}", f"{row.name}, {name}") for name in names)


def _picture(place: str, words: str) -> str:
    return f'<a href="{place}"><img src="{place}" loading="lazy" alt="{escape(words, quote=True)}"></a>'


def _told(one: Figure, report: Mapping[str, Any]) -> str:
    value, band = one.of(report), one.band(report)
    if value is None:
        return ""
    within = "" if band is None else f" ±{band:.{one.digits}f}"
    return f"{value:.{one.digits}f}{within}"


def _head(label: str, unit: str) -> str:
    return f"{label}, {unit}" if unit else label


def _varied(rows: Sequence[Row]) -> list[str]:
    """Settings that a sweep has set, in its order."""
    return list(dict.fromkeys(name for row in rows for name in row.varied))


def _figures(rows: Sequence[Row]) -> list[Figure]:
    """Figures that at least one job has."""
    return [one for one in figures() if any(one.of(row.report) is not None for row in rows)]


def _banded(one: Figure, rows: Sequence[Row]) -> bool:
    return any(one.band(row.report) is not None for row in rows)


def _yes(value: bool | None) -> str:
    return {True: "yes", False: "no", None: ""}[value]


def _plain(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.7g}"
    if isinstance(value, list | tuple):
        return " ".join(_plain(part) for part in value)
    return str(value)
