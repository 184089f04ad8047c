"""What stands on the job sheet, all of it taken from the report."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any

from buckwright import __version__
from buckwright.findings import counted
from buckwright.output.job_sheet.cautions import cautions
from buckwright.output.job_sheet.cutting import cut_steps
from buckwright.output.job_sheet.edge import edge_rows, trim_words
from buckwright.output.job_sheet.gap_plot import gap_plot, gap_rows
from buckwright.output.job_sheet.group import group_rows
from buckwright.output.job_sheet.machine import machine_rows
from buckwright.output.job_sheet.markup import (
    by_words,
    document,
    paragraph,
    rows_table,
    section,
    tick_list,
    wide_table,
)
from buckwright.output.job_sheet.pictures import PICTURE_KEY, shown_pictures
from buckwright.output.job_sheet.solid_view.markup import solid_style, solid_view
from buckwright.output.job_sheet.solid_view.scene import SolidScene, packed
from buckwright.output.job_sheet.working import work_steps

__all__ = ["JobWords", "job_sheet_html"]

_PULLS = 8
_PULL_HEADS = (
    "Pull",
    "Date",
    "Heat setting",
    "Seconds",
    "Sag mm",
    "Vacuum",
    "Hold s",
    "Fill 0-3",
    "Webs, marks",
    "Thickness mm",
    "Change next",
)
_SEVERITY = {"stop": "Stop: ", "warn": "Watch: ", "note": ""}
_MOST_FINDINGS, _MOST_ON_PAPER = 14, 8
_MOST_MEASURES, _MOST_GROUP, _MOST_CUTS = 14, 5, 12
"""Two printed pages hold so many, whatever else the job has; the screen shows them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobWords:
    """Words of the job sheet that no figure holds.

    Attributes
    ----------
    title, number, story : of the job
    sheet : the plastic and its thickness
    material, use, vacuum : of the sheet, what the part is for, what draws the air; as job and machine say
    outcome : one sentence
    answers : questions and answers that the summary leads with
    pulls : what the pull log tells
    """

    title: str
    number: str = ""
    story: str = ""
    sheet: str = ""
    material: str = ""
    use: str = ""
    vacuum: str = ""
    outcome: str = ""
    answers: Sequence[tuple[str, str]] = field(default_factory=tuple)
    pulls: Sequence[str] = ()


def job_sheet_html(
    words: JobWords,
    report: Mapping[str, Any],
    pictures: Mapping[str, bytes],
    scene: SolidScene | None = None,
    lightened: str = "",
) -> bytes:
    """Write the job sheet of a buck.

    Parameters
    ----------
    words : see `JobWords`
    report : plain values, as report.json holds them; sections that are missing are left out
    pictures : PNG by file name; of those that the sheet shows, the ones that are there are put in
    scene : what can be turned; None for pictures alone
    lightened : what was made lighter to keep the page small; empty for nothing

    Returns
    -------
    bytes : one page of HTML that fetches nothing; the same for the same report
    """
    number = f" ({words.number})" if words.number else ""
    shown = shown_pictures(pictures, report)
    measures = rows_table(_measures(words, report), most_on_paper=_MOST_MEASURES)
    body = (
        f"<header><h1>{escape(words.title + number)}</h1>{paragraph(words.story)}</header>",
        paragraph(f"{words.title}: {words.outcome}", kind="lead"),
        rows_table(tuple(words.answers)),
        f'<div class="pictures">{shown}</div>' if shown else "",
        paragraph(PICTURE_KEY, kind="paper") if shown else "",
        "" if scene is None else solid_view(packed(scene)),
        paragraph(lightened, kind="screen"),
        section("Measures", f'<div class="columns">{measures}</div>'),
        section("Machine", rows_table(machine_rows(report))),
        section("Several bucks", rows_table(group_rows(report), most_on_paper=_MOST_GROUP)),
        section("Frame and sheet", rows_table(_rig(report)), _stock_figure(report)),
        section("Gap against waste", *_gaps(report)),
        section("Cutting the stock, from its lower left corner", _cuts(report)),
        section("Work in this order", tick_list(work_steps(report, words.use))),
        section("Cautions", *map(paragraph, _cautions(words, report)), kind="caution"),
        section("Open findings", _findings(report)),
        section("What nobody can tell you beforehand", tick_list(_unknowns(report))),
        section(
            "Pulls",
            *(paragraph(line) for line in words.pulls),
            wide_table(_PULL_HEADS, _empty_pulls()),
            kind="whole",
        ),
        section("Where this comes from", rows_table(_origin(report)), kind="whole"),
    )
    style = "" if scene is None else solid_style()
    return document(f"{words.title}: job sheet", body, style=style, two_pages=True)


def _cautions(words: JobWords, report: Mapping[str, Any]) -> list[str]:
    return cautions(report, material=words.material, use=words.use, vacuum=words.vacuum)


def _measures(words: JobWords, report: Mapping[str, Any]) -> list[tuple[str, str]]:
    rows = [("Sheet", words.sheet)]
    buck, base = report.get("buck"), report.get("base")
    if buck:
        rows += [("Buck", f"{by_words(buck['size_mm'], 1)} mm, {buck['volume_mm3'] / 1000.0:.0f} cm3")]
    rows += _print(report)
    if base:
        rows += [
            ("Trim line", trim_words(base)),
            (
                "Floor, land" if base["style"] == "female" else "Flange, riser",
                f"{base['flange_mm']:.1f} mm, "
                f"{base['land_mm'] if base['style'] == 'female' else base['riser_mm']:.1f} mm",
            ),
        ]
    rows += _take_up(report)
    if report.get("draft"):
        rows += [("Draft", f"at least {report['draft']['wanted_deg']:g} degrees")]
    venting = report.get("venting")
    if venting:
        bare = f"; {counted(venting['bare'], 'pocket')} without one" if venting["bare"] else ""
        rows += [("Vents", f"{venting['vents']}{bare}")]
        if venting["vents_to_drill"]:
            rows += [("Vents to drill", f"{venting['vents_to_drill']}, at the dimples")]
    return [*rows, *edge_rows(report)]


def _print(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What the print takes, what is hard about it, and what being hollow saves."""
    printed, strength = report.get("print"), report.get("strength") or {}
    if not printed:
        return []
    whole, (low, high) = printed["whole"], printed["whole"]["time_h"]
    of = f" of {strength['material']}" if strength.get("material") else ""
    pieces = len(printed["pieces"])
    parts = f" in {counted(pieces, 'piece')}" if pieces > 1 else ""
    layer, over = whole["first_layer_mm2"] / 100.0, whole["overhang_mm2"] / 100.0
    rows = [
        (
            "Print",
            f"about {whole['mass_g']:.0f} g{of}, {whole['filament_m']:.0f} m of filament, {low:.0f} to "
            f"{high:.0f} h{parts}; first layer {layer:.0f} cm2, overhang {over:.0f} cm2",
        )
    ]
    if saved := printed.get("saved_by_hollow"):
        least, most = sorted(abs(hours) for hours in saved["time_h"])
        word = "less" if saved["mass_g"] >= 0.0 else "more"
        words = f"{abs(saved['mass_g']):.0f} g and roughly {least:.1f} to {most:.1f} h {word}"
        rows += [("Hollow, against full", words)]
    return rows


def _take_up(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Take-up blocks and what they do to the webs."""
    taken = report.get("take_up")
    if not taken:
        return []
    words = counted(len(taken["blocks"]), "block") if taken["blocks"] else "none kept"
    before, after = taken["web_length_without_mm"], taken["web_length_mm"]
    if before is not None:
        words += f"; webs over the trim line {after:.0f} mm long, without blocks {before:.0f} mm (forecast)"
    return [("Take-up blocks", words)]


def _rig(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    rig, cutting = report.get("rig"), report.get("cutting")
    if not rig:
        return []
    rows = [
        ("Opening of the frame", f"{by_words(rig['opening_mm'])} mm"),
        ("Gap round the base", f"{by_words(rig['gap_mm'])} mm"),
        (
            "Blank",
            f"{by_words(rig['blank_mm'])} mm, {rig['grip_mm']:g} mm of it under the clamp on each side",
        ),
    ]
    reducing = rig["reducing_set"]
    if reducing:
        strips = [*reducing["frame_strips"], *reducing["gasket_strips"]]
        rows += [
            (
                "Mask plate",
                f"{by_words(reducing['plate_mm'])} mm, cut-out {by_words(reducing['cut_out_mm'])} mm",
            ),
            *(
                (strip["use"].capitalize(), f"{strip['count']} of {strip['length_mm']:.0f} mm")
                for strip in strips
            ),
            ("Clamps", f"{reducing['clamps']}"),
            ("Dead height", f"{rig['dead_mm']:.1f} mm, counted into the riser unless that was given"),
        ]
    if cutting and cutting["sheets"]:
        price = cutting["cost_per_part"]
        rows += [
            (
                "Stock",
                f"{counted(cutting['per_sheet'], 'blank')} a sheet of {by_words(cutting['stock_mm'])} mm "
                f"({cutting['used_share']:.0%} used); {cutting['sheets']} for "
                f"{counted(cutting['blanks'], 'blank')}, spares included",
            ),
            ("Mass of a blank", f"{cutting['blank_kg'] * 1000.0:.0f} g"),
        ]
        rows += [] if price is None else [("Sheet for a part", f"{price:.2f}")]
    return rows


def _stock_figure(report: Mapping[str, Any]) -> str:
    """How blanks lie on the stock, to scale."""
    cutting = report.get("cutting")
    if not cutting or not cutting["sheets"]:
        return ""
    width, depth = cutting["stock_mm"]
    boxes = "".join(
        f'<rect x="{piece["x_mm"]:g}" y="{depth - piece["y_mm"] - piece["depth_mm"]:g}" '
        f'width="{piece["width_mm"]:g}" height="{piece["depth_mm"]:g}"/>'
        for piece in cutting["pieces"]
    )
    text = f"{counted(cutting['per_sheet'], 'blank')} on the stock sheet, to scale"
    return (
        f'<figure style="max-width:26rem"><svg viewBox="-2 -2 {width + 4:g} {depth + 4:g}" role="img" '
        f'aria-label="{text}" fill="none" stroke="currentColor" stroke-width="3">'
        f'<rect x="0" y="0" width="{width:g}" height="{depth:g}" stroke-dasharray="12 8"/>{boxes}</svg>'
        f"<figcaption>{text}</figcaption></figure>"
    )


def _gaps(report: Mapping[str, Any]) -> list[str]:
    """Openings side by side, where several were forecast."""
    gaps = report.get("gaps")
    if not gaps:
        return []
    heads, rows = gap_rows(gaps)
    chosen = gaps["chosen"] or 0
    near = range(max(chosen - 1, 0), chosen + 2)
    more = paragraph("Plot and all openings stand on the screen.", kind="paper")
    plot = f'<figure class="screen" style="max-width:34rem">{gap_plot(gaps)}</figure>'
    return [paragraph(gaps["reason"]), wide_table(heads, rows, on_paper=near), more, plot]


def _cuts(report: Mapping[str, Any]) -> str:
    cutting = report.get("cutting") or {}
    needed, whole = cutting.get("blanks", 0), cutting.get("per_sheet", 0)
    few = cutting.get("together") is None and 0 < needed < whole
    steps = cut_steps(report)
    words = f"They turn a whole sheet into {whole}: stop when you have the {needed}." if few and steps else ""
    return paragraph(words) + tick_list(steps, kind="cuts", most_on_paper=_MOST_CUTS)


def _findings(report: Mapping[str, Any]) -> str:
    """What presses first; what is only a note stays on the screen, so that two pages hold the rest."""
    found = report.get("findings", ())
    if not found:
        return paragraph("None.")
    shown = found[:_MOST_FINDINGS]
    pressing = [_finding(entry) for entry in shown if entry["severity"] != "note"]
    notes = [_finding(entry) for entry in shown if entry["severity"] == "note"]
    on_paper = min(len(pressing), _MOST_ON_PAPER)
    return "\n".join(
        (
            tick_list(pressing[:on_paper]),
            tick_list(pressing[on_paper:] + notes, kind="screen"),
            paragraph(_and_more(len(found) - len(shown)), kind="screen"),
            paragraph(_and_more(len(found) - on_paper), kind="paper"),
        )
    )


def _finding(entry: Mapping[str, Any]) -> str:
    advice = f" {entry['advice']}" if entry["advice"] else ""
    return f"{_SEVERITY[entry['severity']]}{entry['words']}{advice}"


def _and_more(count: int) -> str:
    return f"And {count} more stand in the report." if count else ""


def _unknowns(report: Mapping[str, Any]) -> list[str]:
    steps = ["How evenly your heater heats: try a sheet without vacuum and watch where it sags first."]
    if report.get("forecast"):
        steps.append("Thickness: walls may be off by a fifth, narrow edges by half. Measure the first part.")
    steps.append("How much air leaks in beside the sheet: read the gauge while the vacuum holds.")
    return steps


def _empty_pulls() -> list[list[str]]:
    return [[str(n), *[""] * (len(_PULL_HEADS) - 1)] for n in range(1, _PULLS + 1)]


def _origin(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    sums = report.get("files") or {}
    rows = [("Made with", f"Buckwright {__version__}")]
    if isinstance(sums, Mapping) and "buck.stl" in sums:
        rows.append(("SHA-256 of buck.stl", str(sums["buck.stl"])))
    return rows
