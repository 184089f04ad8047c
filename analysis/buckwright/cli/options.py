"""Options of the command line, made from the settings: `[sheet] thickness_mm` is `--sheet-thickness-mm`.

A command has just the options that change what it does. Those in front are shown in its help; the others are
taken too and listed by `buckwright settings`.
"""

import json
from collections.abc import Callable
from typing import Any

import click

from buckwright.errors import JobError
from buckwright.mesh.bounds import printable
from buckwright.pipeline.commands import COMMANDS, settings_for
from buckwright.settings import Setting, known, settings_of
from buckwright.workshop.log.record import PullRecord

__all__ = [
    "SuggestingCommand",
    "SuggestingGroup",
    "error_json",
    "flag_of",
    "plain_value",
    "tables_from",
    "with_record",
    "with_settings",
]

_MARK = "__"


def error_json(kind: str, words: str, exit_code: int) -> str:
    """What `--json` prints instead of the report when something is wrong."""
    return json.dumps({"error": {"kind": kind, "words": words, "exit_code": exit_code}}, indent=2)


def flag_of(name: str) -> str:
    """The flag of a setting: 'sheet.thickness_mm' is '--sheet-thickness-mm'."""
    return "--" + name.replace(".", "-").replace("_", "-")


class _Value(click.ParamType[Any]):
    """A value that its setting checks, so that errors speak of the flag."""

    def __init__(self, setting: Setting, flag: str) -> None:
        self.setting, self.flag = setting, flag
        self.name = setting.kind.replace("_", " ")

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:  # noqa: ARG002
        """How the value is written."""
        setting = self.setting
        forms = {"vector": "X,Y,Z", "pair": "WIDTHxDEPTH", "places": "X,Y,Z", "text": "TEXT"}
        if setting.kind == "choice":
            return "|".join(setting.words) if len(setting.words) <= 4 else "WORD"
        if setting.kind == "direction":
            return "WORD|X,Y,Z"
        if setting.kind == "amount_or_word":
            return f"NUMBER|{'|'.join(setting.words)}"
        return forms.get(setting.kind, "NUMBER")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read and check one word of the command line."""
        if not isinstance(value, str):
            return value
        try:
            plain = plain_value(self.setting, value)
            self.setting.read([plain] if self.setting.kind == "places" else plain, self.flag)
        except JobError as error:
            typed = repr(value) if isinstance(plain, str) else value
            words = str(error).replace(f"got {plain!r}", f"got {typed}")
            self.fail(words.removeprefix(f"{self.flag} "), param, ctx)
        return plain

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[Any]:  # noqa: ARG002
        """The words of a choice."""
        from click.shell_completion import CompletionItem

        return [
            CompletionItem(word, help=words[1])
            for word, words in self.setting.words.items()
            if word.lower().startswith(incomplete.lower())
        ]


def plain_value(setting: Setting, text: str) -> Any:
    """A word of the command line as a job file would hold it; what is no number stays text."""
    if setting.kind in ("text", "choice") or text in setting.words:
        return text
    if setting.kind == "switch":
        return {"true": True, "false": False}.get(text.lower(), text)
    if setting.kind == "pair":
        return [_number(part) for part in text.lower().replace("\u00d7", "x").replace(",", "x").split("x")]
    if setting.kind in ("vector", "places") or "," in text:
        return [_number(part) for part in text.split(",")]
    number = _number(text)
    return (
        int(number)
        if setting.kind == "whole" and isinstance(number, float) and number.is_integer()
        else number
    )


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _help(setting: Setting) -> str:
    parts = [f"{setting.label}: {setting.tip[0].lower()}{setting.tip[1:]}"]
    if setting.automatic:
        parts.append(f"left out: {setting.automatic}")
    if words := setting.range_words():
        parts.append(words)
    return "; ".join(parts) + "."


def with_settings(command: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Add the options of every setting that changes what a command does."""

    def add(function: Callable[..., Any]) -> Callable[..., Any]:
        chosen = {name: one for name, one in settings_for(COMMANDS[command]).items() if not one.names_file}
        for name, setting in reversed(chosen.items()):
            function = _option(name, setting)(function)
        return function

    return add


def _option(name: str, setting: Setting) -> Callable[..., Any]:
    flag, target = flag_of(name), name.replace(".", _MARK)
    if setting.kind == "switch":
        off = f"--no-{flag.removeprefix('--')}"
        return click.option(
            f"{flag}/{off}", target, default=None, help=_help(setting), hidden=not setting.front
        )
    return click.option(
        flag,
        target,
        type=_Value(setting, flag),
        multiple=setting.kind == "places",
        help=_help(setting),
        hidden=not setting.front,
    )


def with_record(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of everything that can be noted of a pull."""
    for key, setting in reversed(settings_of(PullRecord).items()):
        flag = f"--{key.replace('_', '-')}"
        function = click.option(flag, key, type=_Value(setting, flag), help=_help(setting))(function)
    return function


def tables_from(words: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The tables of a job that the options of a command stand for; what was not given is left out."""
    tables: dict[str, dict[str, Any]] = {}
    for name, value in words.items():
        if value is not None and value != ():
            table, _, key = name.partition(_MARK)
            tables.setdefault(table, {})[key] = list(value) if isinstance(value, tuple) else value
    return tables


class SuggestingCommand(click.Command):
    """A command that names the nearest option to a misspelt one, and tells of those that it does not show."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Parse, and help where an option is not known; for a program tell in JSON too what is wrong."""
        as_json = "--json" in args
        try:
            return self._parsed(ctx, args)
        except click.UsageError as error:
            if as_json:
                click.echo(error_json("UsageError", error.format_message(), error.exit_code))
            raise

    def _parsed(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except click.NoSuchOption as error:
            flags = [flag for one in self.get_params(ctx) for flag in one.opts if flag.startswith("--")]
            near = _near(error.option_name, flags)
            hint = f" Did you mean {' or '.join(near)}?" if near else ""
            name = printable(error.option_name)
            raise click.UsageError(f"No such option {name}.{hint}", ctx) from None

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Say how many settings are not shown."""
        super().format_epilog(ctx, formatter)
        hidden = sum(isinstance(one, click.Option) and one.hidden for one in self.params)
        if hidden:
            formatter.write_paragraph()
            formatter.write_text(
                f"{hidden} more settings are taken as --TABLE-KEY; 'buckwright settings' lists them all."
            )


class SuggestingGroup(click.Group):
    """A group that names the nearest command to a misspelt one."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, and help where it is not known."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            near = known(args[0], self.list_commands(ctx))
            hint = f" Did you mean '{near}'?" if near else ""
            raise click.UsageError(f"{error.message}{hint}", ctx) from None


def _near(typed: str, flags: list[str]) -> list[str]:
    """Flags that are meant by a mistyped one: those that hold all of its words, else the nearest."""
    parts = [part for part in typed.strip("-").replace("_", "-").split("-") if part]
    holding = [flag for flag in flags if all(part in flag.split("-") for part in parts)]
    if holding and parts:
        return sorted(holding)[:6]
    near = known(typed, flags)
    tails = [
        flag for flag in flags if known(typed.strip("-"), [flag.rpartition("-")[2], *flag.split("-")[2:]])
    ]
    return [near] if near else sorted(tails)[:6]
