"""Pieces of HTML: all text is escaped here and nowhere else."""

import base64
from collections.abc import Iterable, Sequence
from html import escape

__all__ = ["document", "figure", "paragraph", "rows_table", "section", "tick_list", "wide_table"]

_STYLE = """
:root { color-scheme: light dark; --ink: #16202a; --paper: #fff; --line: #9aa7b2; --soft: #eef2f5; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #e6ebef; --paper: #161b20; --line: #5c6a76; --soft: #222a31; }
}
* { box-sizing: border-box; }
body { font: 15px/1.45 system-ui, sans-serif; color: var(--ink); background: var(--paper);
  max-width: 62rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.6rem; margin: 0; } h2 { font-size: 1.1rem; margin: 1.4rem 0 .4rem;
  border-bottom: 2px solid var(--line); } p { margin: .3rem 0; }
.lead { font-size: 1.05rem; } .columns { columns: 24rem; column-gap: 2rem; }
table { border-collapse: collapse; width: 100%; break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: .15rem .5rem .15rem 0;
  border-bottom: 1px solid var(--line); }
tbody th { font-weight: 600; width: 40%; } table.wide th, table.wide td { border: 1px solid var(--line);
  padding: .25rem .4rem; height: 1.9rem; } table.wide thead th { background: var(--soft); font-size: .8rem; }
.scroll { overflow-x: auto; }
ul.ticks { list-style: none; padding: 0; } ul.ticks li { margin: .25rem 0; break-inside: avoid; }
ul.ticks label { display: block; padding-left: 1.7rem; text-indent: -1.7rem; }
ul.ticks input { width: 1rem; height: 1rem; margin-right: .7rem; vertical-align: -.1rem; }
.pictures { display: grid; grid-template-columns: repeat(auto-fit, minmax(17rem, 1fr)); gap: .6rem; }
figure { margin: 0; break-inside: avoid; } figure img, figure svg { width: 100%; height: auto; }
figcaption { font-size: .85rem; } .caution { border: 2px solid var(--ink); padding: .4rem .8rem; }
@media print { :root { --ink: #000; --paper: #fff; --line: #777; --soft: #fff; } @page { margin: 12mm; }
  body { font-size: 9.5pt; padding: 0; max-width: none; } h2 { margin-top: .7rem; }
  .pictures { grid-template-columns: repeat(3, 1fr); } figure img { filter: grayscale(1); } }
"""


def document(title: str, body: Iterable[str]) -> bytes:
    """A whole page.

    Parameters
    ----------
    title : plain text
    body : pieces of HTML

    Returns
    -------
    bytes : UTF-8; nothing in it is fetched from elsewhere
    """
    words = "\n".join(body)
    page = (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n{words}\n</main>\n"
        f"</body>\n</html>\n"
    )
    return page.encode("utf-8")


def section(heading: str, *body: str) -> str:
    """A part under a heading; empty where it holds nothing."""
    whole = "\n".join(part for part in body if part)
    return f"<section>\n<h2>{escape(heading)}</h2>\n{whole}\n</section>" if whole else ""


def paragraph(words: str, *, kind: str = "") -> str:
    """A paragraph of plain text."""
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


def tick_list(steps: Iterable[str]) -> str:
    """Steps with boxes to tick, on screen and on paper."""
    items = "".join(f'<li><label><input type="checkbox">{escape(step)}</label></li>\n' for step in steps)
    return f'<ul class="ticks">\n{items}</ul>'


def figure(png: bytes, words: str) -> str:
    """A picture with its words, which also serve those who cannot see it."""
    data = base64.b64encode(png).decode("ascii")
    text = escape(words, quote=True)
    image = f'<img src="data:image/png;base64,{data}" alt="{text}">'
    return f"<figure>{image}<figcaption>{text}</figcaption></figure>"
