"""Pages of text for a terminal: sheets, findings and settings as they are declared; and where results lie."""

import textwrap
from pathlib import Path
from typing import Any

from buckwright.errors import InputError
from buckwright.settings import Setting, known, settings_of
from buckwright.stages import finding_kinds, tables

__all__ = [
    "finding_page",
    "findings_page",
    "machine_page",
    "machines_page",
    "main_picture",
    "newest_results",
    "settings_page",
    "sheet_page",
    "sheets_page",
    "wrapped",
]

_WIDTH = 96
#: Pictures in the order in which one of them is opened.
_CHIEF = ("buck_slant.png", "forecast_top.png", "look_top.png")
_DEEPEST = 3


def sheets_page() -> str:
    """One line for each sheet, the user's own last.

    Raises
    ------
    JobError
        The file of the user's own sheets cannot be used.
    """
    from buckwright.forming.sheets.own import hint, own_sheets
    from buckwright.forming.sheets.table import load_sheets

    own = own_sheets()
    rows = [f"{'name':<16}{'draft':>6}{'shrinkage':>12}{'forming °C':>13}  title"]
    for name, one in {**load_sheets(), **own}.items():
        shrinkage = f"{one.shrinkage.low:.1%}-{one.shrinkage.high:.1%}"
        draft = f"{one.male_draft_deg.value:g}°"
        window = f"{one.forming_lowest_c.high:g}-{one.forming_highest_c.low:g}"
        mine = " (your own)" if name in own else ""
        rows.append(f"{name:<16}{draft:>6}{shrinkage:>12}{window:>13}  {one.title}{mine}")
    more = f"'buckwright sheets NAME' shows all data of one, with sources. {hint()}".strip()
    example = "'buckwright sheets --example' shows what it looks like."
    return "\n".join([*rows, "", *wrapped(more), example]) + "\n"


def sheet_page(name: str) -> str:
    """All data of a sheet with their sources.

    Raises
    ------
    JobError
        No sheet has that name.
    """
    from buckwright.forming.sheets.materials import sheet

    one = sheet(name)
    lines = [f"{one.name}: {one.title}, {one.structure}", ""]
    for key, entry in one.to_dict().items():
        if isinstance(entry, dict):
            lines += _figure(key, entry)
    return "\n".join(lines) + "\n"


def _figure(key: str, entry: dict[str, Any]) -> list[str]:
    from buckwright.forming.sheets.table import amount_words

    source = textwrap.wrap(f"{entry['source']} ({entry['mark']})", _WIDTH - 4)
    words = textwrap.wrap(amount_words(key, entry), _WIDTH - 22)
    head = [f"{key:<22}{words[0]}", *(" " * 22 + line for line in words[1:])]
    return [*head, *(f"    {line}" for line in source)]


def wrapped(words: str) -> list[str]:
    """Lines of words for a terminal."""
    return textwrap.wrap(words, _WIDTH, break_long_words=False, break_on_hyphens=False)


def machines_page() -> str:
    """One line for each machine, the user's own last.

    Raises
    ------
    JobError
        The file of the user's own machines cannot be used.
    """
    from buckwright.workshop.machine.own import hint, library_machines, own_machines

    own = own_machines()
    rows = [f"{'name':<20}{'opening mm':>12}{'height mm':>11}  title"]
    for name, one in {**library_machines(), **own}.items():
        opening = "" if one.frame_mm is None else f"{one.frame_mm[0]:g} x {one.frame_mm[1]:g}"
        height = "" if one.machine_height_mm is None else f"{one.machine_height_mm:g}"
        mine = " (your own)" if name in own else ""
        rows.append(f"{name:<20}{opening:>12}{height:>11}  {one.title}{mine}")
    more = f"'buckwright machines NAME' shows all figures of one. {hint()}".strip()
    example = "'buckwright machines --example' shows what it looks like."
    return "\n".join([*rows, "", *wrapped(more), example]) + "\n"


def machine_page(name: str) -> str:
    """All figures of a machine.

    Raises
    ------
    JobError
        No machine has that name.
    """
    from buckwright.workshop.machine.figures import MachineProfile
    from buckwright.workshop.machine.own import machine

    one = machine(name)
    lines = [one.title, *wrapped(f"{one.source} ({one.mark})"), ""]
    for key, setting in settings_of(MachineProfile).items():
        value = getattr(one, key)
        if value is None or key in ("title", "source", "mark"):
            continue
        words = " x ".join(f"{side:g}" for side in value) if isinstance(value, tuple) else f"{value}"
        words = f"{value:g}" if isinstance(value, float) else words
        lines.append(f"{key:<20}{f'{words} {setting.unit}'.strip():<18}{setting.tip}")
    return "\n".join(lines) + "\n"


def findings_page() -> str:
    """One line for each kind of finding."""
    kinds = finding_kinds()
    rows = [f"{slug:<26}{kind.title}" for slug, kind in kinds.items()]
    return "\n".join([*rows, "", "'buckwright explain SLUG' tells more of one."]) + "\n"


def finding_page(slug: str) -> str:
    """What a finding means.

    Raises
    ------
    InputError
        There is no such finding.
    """
    kinds = finding_kinds()
    if slug not in kinds:
        near = known(slug, list(kinds))
        hint = f"; did you mean {near}?" if near else "; 'buckwright explain' lists them"
        raise InputError(f"no finding is called {slug!r}{hint}")
    kind = kinds[slug]
    parts = [kind.title, "", *_paragraph("Why it matters", kind.why), *_paragraph("The rule", kind.rule)]
    parts += _paragraph("Source", kind.source)
    if kind.remedies:
        parts += ["What can be done", *(f"  - {remedy}" for remedy in kind.remedies)]
    return "\n".join(parts) + "\n"


def _paragraph(title: str, words: str) -> list[str]:
    return [title, *(f"  {line}" for line in textwrap.wrap(words, _WIDTH - 2)), ""]


def settings_page(table: str | None = None) -> str:
    """Every setting of a table, or of all.

    Raises
    ------
    InputError
        There is no such table.
    """
    kinds = tables()
    if table is not None and table not in kinds:
        near = known(table, list(kinds))
        hint = f"; did you mean {near}?" if near else f"; there are {', '.join(kinds)}"
        raise InputError(f"there is no table {table!r}{hint}")
    lines: list[str] = []
    for name, kind in kinds.items():
        if table in (None, name):
            lines += [f"[{name}]  {(kind.__doc__ or '').strip().splitlines()[0]}"]
            for key, setting in settings_of(kind).items():
                lines += _setting(key, setting, getattr(kind(), key))
            lines.append("")
    return "\n".join(lines)


def _setting(key: str, setting: Setting, default: Any) -> list[str]:
    notes = [setting.tip]
    if setting.words:
        notes.append("one of " + ", ".join(setting.words))
    if words := setting.range_words():
        notes.append(words)
    notes.append(f"left out: {setting.automatic}" if setting.optional else f"default {default!r}")
    words_of = textwrap.wrap("; ".join(notes), _WIDTH - 24)
    return [f"  {key:<22}{words_of[0]}", *(" " * 24 + line for line in words_of[1:])]


def newest_results(below: Path) -> Path | None:
    """The folder with the newest report at most three levels below a folder; None if there is none."""
    patterns = ["/".join(["*"] * depth + ["*report.json"]) for depth in range(_DEEPEST + 1)]
    reports = [path for pattern in patterns for path in below.glob(pattern)]
    newest = max(reports, key=lambda path: path.stat().st_mtime, default=None)
    return None if newest is None else newest.parent


def main_picture(folder: Path) -> Path | None:
    """The picture of a folder of results that says most; None if there is none."""
    named = [folder / name for name in _CHIEF if (folder / name).is_file()]
    return next(iter(named), next(iter(sorted(folder.glob("*.png"))), None))
