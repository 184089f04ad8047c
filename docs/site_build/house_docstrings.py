"""Bring the house form of docstrings, `name : words`, into the form that the reader of docstrings knows.

There a colon is followed by a type; here types stand in the signature, and words follow the colon.
"""

import inspect
import re
from collections.abc import Iterator
from typing import Any

import griffe

_ENTRY = re.compile(r"(?P<names>[*\w][\w*, ]*?) : (?P<words>.*)")


class HouseDocstrings(griffe.Extension):
    """Rewrites docstrings before they are read."""

    def on_object(self, *, obj: griffe.Object, **_: Any) -> None:
        """Called for every module, class, function and attribute."""
        if obj.docstring is not None:
            returns = str(getattr(obj, "returns", None) or "")
            obj.docstring.value = rewritten(obj.docstring.value, returns=returns)


def rewritten(text: str, *, returns: str = "") -> str:
    """The docstring with the words of each entry on lines of their own.

    Parameters
    ----------
    text : as `inspect.cleandoc` gives it
    returns : the return annotation
    """
    parts: list[str] = []
    for head, lines in _sections(inspect.cleandoc(text)):
        parts += [head, "-" * len(head)] if head else []
        if head in ("Parameters", "Attributes"):
            parts += [part for line in lines for part in _split(line)]
        elif head in ("Returns", "Yields"):
            parts += _returned(lines, returns)
        else:
            parts += lines
    return "\n".join(parts)


def _sections(text: str) -> Iterator[tuple[str, list[str]]]:
    """Heads with the lines under each; the first part has none."""
    head, body = "", list[str]()
    lines = iter(text.splitlines())
    for line in lines:
        if body and line and set(line) == {"-"}:
            following = body.pop()
            yield head, body
            head, body = following, []
        else:
            body.append(line)
    yield head, body


def _split(line: str) -> list[str]:
    match = _ENTRY.fullmatch(line)
    return [line] if match is None else [match["names"], f"    {match['words']}"]


def _returned(lines: list[str], returns: str) -> list[str]:
    """One entry of the annotated type; several that are named become a list."""
    text = [line for line in lines if line.strip()]
    entries = [line for line in text if not line.startswith(" ")]
    if len(entries) > 1 and all(_ENTRY.fullmatch(line) for line in entries):
        text = [re.sub(_ENTRY, r"- `\g<names>`: \g<words>", line) for line in text]
        text = ["", *text]
    elif len(text) > 1 and text[1].startswith(" "):
        text = [line.strip() for line in text[1:]]
    return [returns or "None", *(f"    {line}" for line in text), ""]
