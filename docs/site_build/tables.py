"""Tables of the reference, made from the library's own declarations while the site is built.

A page holds a line such as `[[ settings ]]` where a table belongs; a name that is not known stops the build.
"""

import re
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

import attrs

import buckwright
from buckwright.findings import FindingKind
from buckwright.forming.sheets.own import EXAMPLE
from buckwright.forming.sheets.table import SheetMaterial, amount_words, label_of, load_sheets
from buckwright.pipeline.commands import COMMANDS, settings_for
from buckwright.settings import Setting, settings_of
from buckwright.stages import all_stages, color_maps, finding_kinds, tables
from buckwright.workshop.machine.own import EXAMPLE as OWN_MACHINES

_MARK = re.compile(r"^\[\[ (\w+)(?: (\w+))? \]\]$", re.MULTILINE)
_LIBRARY = Path(buckwright.__file__).parent
# Told by the generated tables, or of use to their own room only.
_NOT_SHOWN = {"__init__", "stage", "settings", "findings", "pictures"}


def on_page_markdown(markdown: str, **_: Any) -> str:
    """Put the tables into a page; called by mkdocs for each."""
    return _MARK.sub(lambda mark: TABLES[mark[1]](*([mark[2]] if mark[2] else [])), markdown)


def modules(room: str) -> str:
    """Every module of a room that offers something, from its docstrings."""
    files = sorted((_LIBRARY / room).rglob("*.py"), key=lambda file: (len(file.parts), file))
    if not files:
        raise ValueError(f"there is no room {room}")
    names = [
        ".".join(["buckwright", *file.relative_to(_LIBRARY).with_suffix("").parts])
        for file in files
        if file.stem not in _NOT_SHOWN
    ]
    return "\n\n".join(f"::: {name}" for name in names)


def settings() -> str:
    """One section for each table of the job file."""
    return "\n\n".join(_settings_of(name, kind) for name, kind in tables().items())


def _settings_of(name: str, kind: type) -> str:
    fresh = kind()
    lines = [f"## [{name}]", "", (kind.__doc__ or "").strip().splitlines()[0], ""]
    lines += _header("Key", "What it does", "Values", "When left out")
    for key, setting in settings_of(kind).items():
        what = f"**{setting.label}**. {setting.tip}."
        lines.append(_row(f"`{key}`", what, _values(setting), _default(setting, getattr(fresh, key))))
    for key, setting in settings_of(kind).items():
        if setting.words and any(tip for _, tip in setting.words.values()):
            lines += ["", f"Words of `{name}.{key}`:", ""]
            lines += [f"- `{word}` ({label}): {tip}" for word, (label, tip) in setting.words.items()]
    assert attrs.has(kind)
    return "\n".join(lines)


def _values(setting: Setting) -> str:
    """What may stand there."""
    kinds = {
        "text": "text",
        "switch": "true or false",
        "vector": "three numbers",
        "pair": "two numbers",
        "number": "a number",
        "whole": "a whole number",
        "direction": "three numbers",
        "amount_or_word": "a number",
        "places": f"a list of places, {setting.size} numbers each",
    }
    words = ", ".join(f"`{word}`" for word in setting.words)
    parts = [words] if setting.kind == "choice" else [part for part in (words, kinds[setting.kind]) if part]
    return " or ".join(parts) + (f" {setting.range_words()}" if setting.range_words() else "")


def _default(setting: Setting, value: Any) -> str:
    """What holds when nothing is said."""
    if value is None:
        return f"follows from: {setting.automatic}"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, tuple):
        return f"`{list(value)}`"
    return f'`"{value}"`' if isinstance(value, str) else f"`{value:g}`"


def findings() -> str:
    """One section for each kind of finding."""
    return "\n\n".join(_finding(kind) for kind in finding_kinds().values())


def _finding(kind: FindingKind) -> str:
    lines = [f"## {kind.slug}", "", f"**{kind.title}.** {kind.why}", ""]
    lines += [f"Rule: {kind.rule}", "", f"Source: {kind.source}"]
    if kind.remedies:
        lines += ["", "What can be done:", "", *(f"- {remedy}" for remedy in kind.remedies)]
    return "\n".join(lines)


def sheets() -> str:
    """One section for each material, every figure with its source."""
    return "\n\n".join(_sheet(material) for material in load_sheets().values())


def _sheet(material: SheetMaterial) -> str:
    lines = [f"## {material.name}", "", f"{material.title}, {material.structure}", ""]
    lines += _header("Figure", "Value", "Source", "Mark")
    for key, entry in material.to_dict().items():
        if isinstance(entry, dict):
            label = f"{label_of(key)[0]} (`{key}`)"
            lines.append(_row(label, amount_words(key, entry), entry["source"], entry["mark"]))
    return "\n".join(lines)


def own_sheets() -> str:
    """A file of own sheets, as the command prints it."""
    return f"```toml\n{EXAMPLE}```"


def own_machines() -> str:
    """A file of own machines, as the command prints it."""
    return f"```toml\n{OWN_MACHINES}```"


def commands() -> str:
    """The commands that work something out, and the tables of settings that each reads."""
    lines = _header("Command", "What it does", "Settings that change it")
    for command in COMMANDS.values():
        named: dict[str, list[str]] = {}
        for name in settings_for(command):
            table, _, key = name.partition(".")
            named.setdefault(table, []).append(key)
        read = ", ".join(f"[{table}](settings.md#{table})" for table in named)
        lines.append(_row(f"`{command.name}`", command.title, read))
    return "\n".join(lines)


def stages() -> str:
    """The stages in the order of work."""
    lines = _header("Stage", "What it does", "Gives", "Needs", "Kept")
    for stage in all_stages():
        needs = ", ".join(f"`{need}`" for need in stage.needs)
        kept = "yes" if stage.keep else ""
        lines.append(_row(stage.name, stage.title, f"`{stage.gives}`", needs, kept))
    return "\n".join(lines)


def colors() -> str:
    """Values for each face of the sculpt."""
    lines = _header("Name", "Shown as", "What it is", "Unit")
    for name, one in color_maps().items():
        lines.append(_row(f"`{name}`", one.label, one.tip, one.unit))
    return "\n".join(lines)


def _header(*names: str) -> list[str]:
    return [_row(*names), _row(*("---" for _ in names))]


def _row(*cells: str) -> str:
    return "| " + " | ".join(escape(cell, quote=False).replace("|", "\\|") for cell in cells) + " |"


TABLES: dict[str, Callable[..., str]] = {
    "modules": modules,
    "settings": settings,
    "findings": findings,
    "sheets": sheets,
    "own_sheets": own_sheets,
    "own_machines": own_machines,
    "commands": commands,
    "stages": stages,
    "colors": colors,
}
