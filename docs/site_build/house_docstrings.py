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
            parts += _entries(lines)
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


def _entries(lines: list[str]) -> list[str]:
    """Each name on a line of its own, its words below; several names get the same words."""
    entries: list[tuple[list[str], list[str]]] = []
    for line in lines:
        match = _ENTRY.fullmatch(line)
        if match is not None:
            entries.append((match["names"].split(", "), [f"    {match['words']}"]))
        elif entries:
            entries[-1][1].append(line)
        else:
            entries.append(([], [line]))
    return [
        line for names, words in entries for name in names or [""] for line in (name, *words) if line != ""
    ]


def _returned(lines: list[str], returns: str) -> list[str]:
    """One entry of the annotated type; several that are named become a list."""
    text = [line for line in lines if line.strip()]
    heads = [line for line in text if not line.startswith(" ")]
    if all(_ENTRY.fullmatch(line) for line in heads):
        words = r"\g<words>" if len(heads) == 1 else r"- `\g<names>`: \g<words>"
        text = ["", *(_ENTRY.sub(words, line) for line in text)]
    elif len(text) > 1 and text[1].startswith(" "):
        text = [line.strip() for line in text[1:]]
    return [returns or "None", *(f"    {line}" for line in text), ""]
