"""The job sheet of a set: what is bought and built, what is cut, each part with a sheet of its own."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from html import escape
from typing import Any
from urllib.parse import quote

from buckwright.findings import SEVERITIES, counted
from buckwright.forming.sheets.materials import sheet as material_of
from buckwright.many.project.planning import FrameOf, SharedSheet
from buckwright.many.project.reading import Project, SetPart
from buckwright.many.table import Row
from buckwright.output.job_sheet.cutting import cut_lines
from buckwright.output.job_sheet.markup import document, paragraph, section, tick_list, wide_table
from buckwright.output.summary import CAUTIONS

__all__ = ["set_page"]

_STYLE = (
    ".parts{display:grid;grid-template-columns:repeat(auto-fill,minmax(15rem,1fr));gap:.8rem}"
    ".parts img{width:100%}.parts h3{margin:.2rem 0;font-size:1rem}"
    "@media print{.parts{grid-template-columns:repeat(3,1fr);column-span:all}}"
)
_PICTURE = "buck_slant.png"
_MOST_FINDINGS = 3
_MOST_FIGURES = 12
_GREYS = ("#fff", "#ddd", "#bbb", "#999", "#eee", "#ccc", "#aaa")


def set_page(
    project: Project,
    done: Sequence[tuple[SetPart, Row]],
    sheets: Sequence[SharedSheet],
    frames: Sequence[FrameOf],
) -> bytes:
    """Write the job sheet of a set.

    Parameters
    ----------
    project : the set
    done : every part with its row, those that failed or wait among them
    sheets : what their blanks are cut from
    frames : what holds the blanks

    Returns
    -------
    bytes : UTF-8; its pictures are those in the folders of the parts
    """
    number = f" ({project.number})" if project.number else ""
    cards = "".join(_card(part, row) for part, row in done)
    cutting = [_layouts(sheet) for sheet in sheets]
    body = (
        f"<header><h1>{escape(project.name + number)}</h1>{paragraph(project.story)}</header>",
        paragraph(_lead(done), kind="lead"),
        section("To buy and to build", tick_list(_shopping(done, sheets, frames))),
        section("Parts", wide_table(_HEADS, (_part_row(part, row) for part, row in done)), kind="whole"),
        f'<div class="parts">{cards}</div>',
        section("Cutting the stock, from its lower left corner", *cutting),
        section("Work in this order", tick_list(_steps(sheets, frames))),
        section("Cautions", paragraph(CAUTIONS), kind="caution"),
        section("Open findings", tick_list(_findings(done))),
    )
    return document(f"{project.name}: job sheet of the set", body, style=_STYLE)


_HEADS = ("Part", "Parts wanted", "Size", "Sheet", "Buck", "Frame", "Blanks", "Comes off", "Weakest spot")


def _lead(done: Sequence[tuple[SetPart, Row]]) -> str:
    failed = [part.title for part, row in done if row.state == "failed"]
    waiting = sum(row.state == "waiting" for _, row in done)
    locked = [part.title for part, row in done if row.releases is False]
    words = f"{counted(len(done), 'buck')}, {counted(sum(part.count for part, _ in done), 'part')}"
    words += f"; {waiting} not done yet" if waiting else ""
    words += f"; failed: {', '.join(failed)}" if failed else ""
    words += f"; locked on the buck: {', '.join(locked)}" if locked else ""
    return f"{words}."


def _by(sides: Sequence[float]) -> str:
    return " x ".join(f"{float(side):.0f}" for side in sides)


def _sheet_words(part: SetPart) -> str:
    return f"{material_of(part.job.sheet.material).title}, {part.job.sheet.thickness_mm:g} mm"


def _part_row(part: SetPart, row: Row) -> list[str]:
    report = row.report
    buck, rig, cutting = (report.get(name) or {} for name in ("buck", "rig", "cutting"))
    weakest = (report.get("forecast") or {}).get("weakest") or {}
    size = "" if part.wanted_mm is None else f"{part.job.size.measure} {part.wanted_mm:g} mm"
    blanks = f"{cutting['blanks']} of {_by(cutting['blank_mm'])} mm" if cutting else ""
    return [
        part.title,
        str(part.count),
        size,
        _sheet_words(part),
        f"{_by(buck['size_mm'])} mm" if buck else "",
        f"{_by(rig['opening_mm'])} mm" if rig else "",
        blanks,
        {True: "yes", False: "no", None: row.state}[row.releases],
        f"{weakest['mm']:.2f} mm" if weakest else "",
    ]


def _card(part: SetPart, row: Row) -> str:
    if row.state != "done":
        return ""
    files = row.report.get("files") or {}
    picture = (
        f'<img src="{quote(row.name)}/{_PICTURE}" loading="lazy" alt="{escape(part.title, quote=True)}">'
    )
    shown = picture if _PICTURE in files else ""
    twin = f"<p>Mirror image of {escape(part.twin_of)}.</p>" if part.twin_of else ""
    link = f'<a href="{quote(row.name)}/job_sheet.html">its job sheet</a>'
    return f"<section><h3>{escape(part.title)}</h3>{shown}{twin}<p>{link}</p></section>"


def _shopping(
    done: Sequence[tuple[SetPart, Row]], sheets: Sequence[SharedSheet], frames: Sequence[FrameOf]
) -> list[str]:
    steps = []
    for sheet in sheets:
        count = sheet.together.count
        words = (
            f"{counted(count, 'sheet')} of {material_of(sheet.material).title}, {sheet.thickness_mm:g} mm, "
            f"{_by(sheet.stock.stock_mm)} mm, spares included"
        )
        if sheet.alone > count:
            words += f" ({sheet.alone} if each part were cut by itself)"
        words += "" if sheet.cost is None else f": {sheet.cost:.2f}"
        steps.append(words)
    for frame in frames:
        steps.append(f"A frame with an opening of {_by(frame.opening_mm)} mm, for {', '.join(frame.parts)}")
    grams: dict[str, float] = {}
    for part, row in done:
        whole = (row.report.get("print") or {}).get("whole")
        if whole:
            material = part.job.print.material
            grams[material] = grams.get(material, 0.0) + float(whole["mass_g"])
    return [
        *steps,
        *(f"{mass / 1000.0:.2f} kg of {material} for the bucks" for material, mass in grams.items()),
    ]


def _layouts(sheet: SharedSheet) -> str:
    parts = []
    numbers = {title: n for n, title in enumerate(sheet.parts, 1)}
    for layout, cutting in list(zip(sheet.together.sheets, sheet.cuts, strict=True))[:_MOST_FIGURES]:
        held = [one.name for one in layout.pieces]
        words = ", ".join(f"{held.count(name)} for {name} ({numbers[name]})" for name in dict.fromkeys(held))
        title = f"{counted(layout.count, 'sheet')} of {sheet.thickness_mm:g} mm with {words}"
        steps = cut_lines([asdict(cut) for cut in cutting.cuts])
        parts.append(_figure(sheet, layout.pieces, numbers, title) + tick_list(steps, kind="cuts"))
    more = len(sheet.cuts) - _MOST_FIGURES
    if more > 0:
        parts.append(paragraph(f"And {counted(more, 'sheet')} more stand in set.json."))
    return "".join(parts)


def _figure(sheet: SharedSheet, pieces: Sequence[Any], numbers: Mapping[str, int], title: str) -> str:
    """What lies on a sheet, to scale; blanks of a part have its number and one shade."""
    width, depth = sheet.stock.stock_mm
    boxes = "".join(
        f'<rect x="{one.piece.x:g}" y="{depth - one.piece.y - one.piece.depth_mm:g}" '
        f'width="{one.piece.width_mm:g}" height="{one.piece.depth_mm:g}" '
        f'fill="{_GREYS[(numbers[one.name] - 1) % len(_GREYS)]}"/>'
        f'<text x="{one.piece.x + one.piece.width_mm / 2.0:g}" '
        f'y="{depth - one.piece.y - one.piece.depth_mm / 2.0:g}" font-size="48" fill="#000" stroke="none" '
        f'text-anchor="middle" dominant-baseline="central">{numbers[one.name]}</text>'
        for one in pieces
    )
    text = escape(title, quote=True)
    return (
        f'<figure style="max-width:34rem"><svg viewBox="-2 -2 {width + 4:g} {depth + 4:g}" role="img" '
        f'aria-label="{text}" fill="none" stroke="currentColor" stroke-width="3" font-family="sans-serif">'
        f'<rect x="0" y="0" width="{width:g}" height="{depth:g}" stroke-dasharray="12 8"/>{boxes}</svg>'
        f"<figcaption>{text}</figcaption></figure>"
    )


def _steps(sheets: Sequence[SharedSheet], frames: Sequence[FrameOf]) -> list[str]:
    steps = ["Print all bucks; each has its own sheet with how it is drilled and fixed."]
    if sheets:
        steps.append("Cut all blanks first, as below: blanks of different parts share stock.")
    for frame in frames:
        steps.append(
            f"Set up the frame of {_by(frame.opening_mm)} mm, and form one after the other: "
            f"{', '.join(frame.parts)}."
        )
    return [*steps, "Trim each part by its own sheet, and mark its inside with its name before the next."]


def _findings(done: Sequence[tuple[SetPart, Row]]) -> list[str]:
    lines = [f"{part.title}: {row.wrong}" for part, row in done if row.state == "failed"]
    for part, row in done:
        found = [one for one in row.report.get("findings") or () if one["severity"] != SEVERITIES[-1]]
        lines += [f"{part.title}: {one['words']}" for one in found[:_MOST_FINDINGS]]
    return lines or ["None."]
