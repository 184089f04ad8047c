"""What the library says, as a panel says it: names of job files become the labels of settings.

The library's sentences are read in terminals and beside job files too, and may say `fill.mode 'full'`.
This module must not import Blender.
"""

import re
from functools import cache

from ..bridge.library import Setting, all_settings

__all__ = ["sentence", "spoken"]

_QUOTED = re.compile(r"'([\w/-]+)'")
_OF_TERMINAL = re.compile(r" \(buckwright \w+\)| \(--[\w-]+(?: \d+)?\)| in \w+\.png\b|; see \w+\.json\b")


def sentence(words: str) -> str:
    """A message of the library as a panel says it: spoken, and with a capital."""
    said = spoken(words)
    return said[:1].upper() + said[1:]


def spoken(text: str) -> str:
    """A sentence of the library without names that only a job file, a terminal or a folder of files knows.

    Examples
    --------
    `Fill the undercuts (fill.mode 'full', or 'locked').` becomes
    `Fill the undercuts (Fill "All", or "Locked Areas Only").`
    """
    text = _OF_TERMINAL.sub("", text)
    parts = _names().split(text)
    said = [parts[0]]
    for name, rest in zip(parts[1::2], parts[2::2], strict=True):
        setting = _settings()[name]
        said += [setting.label, _with_labels(rest, setting)]
    return "".join(said)


def _with_labels(text: str, setting: Setting) -> str:
    def label(found: re.Match[str]) -> str:
        words = setting.words.get(found[1])
        return found[0] if words is None else f'"{words[0]}"'

    return _QUOTED.sub(label, text)


@cache
def _settings() -> dict[str, Setting]:
    """Settings by the ways to name them: [table] key, table.key, and the key where it is no plain word."""
    found: dict[str, Setting] = {}
    for name, setting in all_settings().items():
        table, _, key = name.partition(".")
        found |= {f"[{table}] {key}": setting, name: setting}
        if "_" in key:
            found[key] = setting
    return found


@cache
def _names() -> re.Pattern[str]:
    longest_first = sorted(_settings(), key=len, reverse=True)
    return re.compile(rf"(?<![\w.])({'|'.join(map(re.escape, longest_first))})(?!\w)")
