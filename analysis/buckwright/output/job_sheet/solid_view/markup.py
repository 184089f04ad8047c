"""The 3-D view as a piece of the page: choices, canvas, buttons, data and scripts."""

import json
from html import escape
from pathlib import Path

__all__ = ["solid_style", "solid_view"]

_HERE = Path(__file__).parent
_DEEDS = (
    ("left", "\N{LEFTWARDS ARROW}", "Turn left"),
    ("right", "\N{RIGHTWARDS ARROW}", "Turn right"),
    ("up", "\N{UPWARDS ARROW}", "Look from higher up"),
    ("down", "\N{DOWNWARDS ARROW}", "Look from lower down"),
    ("nearer", "+", "Nearer"),
    ("farther", "\N{MINUS SIGN}", "Farther"),
    ("home", "Start", "Back to where the view started"),
)
_KEYS = (
    "Drag with mouse or finger to turn, pinch for nearer and farther. With the view chosen, the wheel, the "
    "arrow keys, + and - do the same; Home starts again."
)
_INSTEAD = "This browser has no 3-D graphics; the pictures show the same."


def solid_style() -> str:
    """Style of the view."""
    return (_HERE / "view.css").read_text(encoding="utf-8")


def solid_view(scene: str) -> str:
    """The view; it stays hidden where scripts do not run.

    Parameters
    ----------
    scene : from `scene.packed`

    Returns
    -------
    str : HTML with everything that it needs
    """
    states = json.loads(scene)["states"]
    choices = "".join(
        f'<label><input type="radio" name="solid-state" value="{escape(one["name"])}" '
        f'autocomplete="off"{" checked" if n == 0 else ""}> {escape(one["label"])}</label>'
        for n, one in enumerate(states)
    )
    buttons = "".join(
        f'<button type="button" data-deed="{deed}" aria-label="{words}" title="{words}">{sign}</button>'
        for deed, sign, words in _DEEDS
    )
    scripts = "\n".join(
        f"<script>\n{(_HERE / name).read_text(encoding='utf-8')}</script>"
        for name in ("three.min.js", "view.js")
    )
    return (
        f'<section id="solid-view" hidden>\n<h2>3-D view</h2>\n<p class="instead">{_INSTEAD}</p>\n'
        f"<fieldset><legend>Show</legend>{choices}</fieldset>\n"
        f'<canvas tabindex="0" role="img" aria-label="The buck in 3-D" aria-describedby="solid-keys">'
        f"</canvas>\n"
        f'<ul class="scale" aria-label="Scale of the colours"></ul>\n'
        f'<div class="turning" role="group" aria-label="Turn the view">{buttons}</div>\n'
        f'<p id="solid-keys">{escape(_KEYS)}</p>\n</section>\n'
        f'<script type="application/json" id="solid-data">{scene}</script>\n{scripts}'
    )
