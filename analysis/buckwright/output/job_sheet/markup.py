"""Pieces of HTML: all text is escaped here and nowhere else."""

import base64
from collections.abc import Container, Iterable, Sequence
from html import escape
from pathlib import Path

__all__ = ["by_words", "document", "figure", "paragraph", "rows_table", "section", "tick_list", "wide_table"]

_STYLE = Path(__file__).with_name("page.css")
_ROWS_IN_FULL_SIZE = 80  # of 45 sheets put together by chance, all up to 86 fitted two pages of Letter
_ON_SCREEN = ' class="screen"'


def by_words(sides: Sequence[float], digits: int = 0) -> str:
    """Sides in words: '120 x 90', with so many digits behind the point."""
    return " x ".join(f"{side:.{digits}f}" for side in sides)


def document(title: str, body: Iterable[str], *, style: str = "", two_pages: bool = False) -> bytes:
    """A whole page.

    Parameters
    ----------
    title : plain text
    body : pieces of HTML
    style : beyond that of every page
    two_pages : whether many rows are printed smaller, so that two pages hold them

    Returns
    -------
    bytes : UTF-8; nothing in it is fetched from elsewhere
    """
    words = "\n".join(body)
    many = words.count("<tr>") + words.count("<li>") > _ROWS_IN_FULL_SIZE
    full = ' class="full"' if two_pages and many else ""
    page = (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{_STYLE.read_text(encoding='utf-8')}{style}</style>\n</head>\n<body>\n<main{full}>\n{words}\n</main>\n"
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


def rows_table(rows: Sequence[tuple[str, str]], *, most_on_paper: int | None = None) -> str:
    """Names and values, one pair a row; empty without rows.

    Parameters
    ----------
    rows : name and value of each
    most_on_paper : rows that are printed; the screen shows all, and the paper says how many more
    """
    if not rows:
        return ""
    most = len(rows) if most_on_paper is None else most_on_paper
    body = "".join(
        f'<tr{_ON_SCREEN if n >= most else ""}><th scope="row">{escape(name)}</th>'
        f"<td>{escape(value)}</td></tr>\n"
        for n, (name, value) in enumerate(rows)
    )
    return f"<table><tbody>\n{body}</tbody></table>{_more(len(rows) - most)}"


def wide_table(
    heads: Sequence[str], rows: Iterable[Sequence[str]], *, on_paper: Container[int] | None = None
) -> str:
    """A table with a head; empty cells are room to write in.

    Parameters
    ----------
    heads : of the columns
    rows : cells of each
    on_paper : numbers of the rows that are printed; None for all
    """
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in heads)
    body = "".join(
        f"<tr{'' if on_paper is None or n in on_paper else _ON_SCREEN}>"
        f"{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>\n"
        for n, row in enumerate(rows)
    )
    return (
        f'<div class="scroll"><table class="wide"><thead><tr>{head}</tr></thead>'
        f"<tbody>\n{body}</tbody></table></div>"
    )


def tick_list(steps: Iterable[str], *, kind: str = "", most_on_paper: int | None = None) -> str:
    """Steps with boxes to tick, on screen and on paper; empty without steps.

    Parameters
    ----------
    steps : one line each
    kind : class for the style
    most_on_paper : steps that are printed; the screen shows all, and the paper says how many more

    Returns
    -------
    str : HTML
    """
    steps = list(steps)
    if not steps:
        return ""
    most = len(steps) if most_on_paper is None else most_on_paper
    items = "".join(
        f'<li{_ON_SCREEN if n >= most else ""}><label><input type="checkbox">{escape(step)}</label></li>\n'
        for n, step in enumerate(steps)
    )
    return f'<ul class="{f"ticks {kind}".rstrip()}">\n{items}</ul>{_more(len(steps) - most)}'


def figure(png: bytes, words: str, *, printed: bytes | None = None) -> str:
    """A picture with its words, which also serve those who cannot see it.

    Parameters
    ----------
    png : as the screen shows it
    words : under it
    printed : PNG in its place on paper; None for the same
    """
    text = escape(words, quote=True)
    images = (
        _image(png, text) if printed is None else _image(png, text, "screen") + _image(printed, "", "paper")
    )
    return f"<figure>{images}<figcaption>{text}</figcaption></figure>"


def _image(png: bytes, text: str, kind: str = "") -> str:
    data = base64.b64encode(png).decode("ascii")
    return f'<img{f" class={kind!r}" if kind else ""} src="data:image/png;base64,{data}" alt="{text}">'


def _more(count: int) -> str:
    return paragraph(f"And {count} more, on the screen.", kind="paper") if count > 0 else ""
