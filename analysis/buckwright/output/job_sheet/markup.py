"""Pieces of HTML: all text is escaped here and nowhere else."""

import base64
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

__all__ = ["document", "figure", "paragraph", "rows_table", "section", "tick_list", "wide_table"]

_STYLE = Path(__file__).with_name("page.css")


def document(title: str, body: Iterable[str], *, style: str = "") -> bytes:
    """A whole page.

    Parameters
    ----------
    title : plain text
    body : pieces of HTML
    style : beyond that of every page

    Returns
    -------
    bytes : UTF-8; nothing in it is fetched from elsewhere
    """
    words = "\n".join(body)
    page = (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{_STYLE.read_text(encoding='utf-8')}{style}</style>\n</head>\n<body>\n<main>\n{words}\n</main>\n"
        f"</body>\n</html>\n"
    )
    return page.encode("utf-8")


def section(heading: str, *body: str, kind: str = "") -> str:
    """A part under a heading, of a kind that the style knows; empty where it holds nothing."""
    whole = "\n".join(part for part in body if part)
    named = f" class={kind!r}" if kind else ""
    return f"<section{named}>\n<h2>{escape(heading)}</h2>\n{whole}\n</section>" if whole else ""


def paragraph(words: str, *, kind: str = "") -> str:
    """A paragraph of plain text.

    Parameters
    ----------
    words : what it says; empty for none
    kind : class for the style

    Returns
    -------
    str : HTML
    """
    return f"<p{f' class={kind!r}' if kind else ''}>{escape(words)}</p>" if words else ""


def rows_table(rows: Sequence[tuple[str, str]]) -> str:
    """Names and values, one pair a row; empty without rows."""
    if not rows:
        return ""
    body = "".join(
        f'<tr><th scope="row">{escape(name)}</th><td>{escape(value)}</td></tr>\n' for name, value in rows
    )
    return f"<table><tbody>\n{body}</tbody></table>"


def wide_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table with a head; empty cells are room to write in."""
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in heads)
    body = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>\n" for row in rows)
    return (
        f'<div class="scroll"><table class="wide"><thead><tr>{head}</tr></thead>'
        f"<tbody>\n{body}</tbody></table></div>"
    )


def tick_list(steps: Iterable[str], *, kind: str = "") -> str:
    """Steps with boxes to tick, on screen and on paper; empty without steps.

    Parameters
    ----------
    steps : one line each
    kind : class for the style

    Returns
    -------
    str : HTML
    """
    steps = list(steps)
    if not steps:
        return ""
    items = "".join(f'<li><label><input type="checkbox">{escape(step)}</label></li>\n' for step in steps)
    return f'<ul class="{f"ticks {kind}".rstrip()}">\n{items}</ul>'


def figure(png: bytes, words: str) -> str:
    """A picture with its words, which also serve those who cannot see it."""
    data = base64.b64encode(png).decode("ascii")
    text = escape(words, quote=True)
    image = f'<img src="data:image/png;base64,{data}" alt="{text}">'
    return f"<figure>{image}<figcaption>{text}</figcaption></figure>"
