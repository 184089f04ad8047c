"""Text in panels is broken, not cut, whatever the width and the scale of the interface."""

from types import SimpleNamespace

import pytest

WORDS = (
    "The sculpt has 9 trapped regions: 9 locked, 0 flex off, 0 come off. The worst needs 66.3 mm sideways at "
    "x 2, y 19, z 3 mm and up to 145.1% strain; high-impact polystyrene bears 1.0% (from memory)."
)


def _context(width, scale):
    style = SimpleNamespace(widget=SimpleNamespace(points=11.0))
    preferences = SimpleNamespace(system=SimpleNamespace(ui_scale=scale), ui_styles=[style])
    return SimpleNamespace(region=SimpleNamespace(width=width), preferences=preferences)


@pytest.mark.parametrize("scale", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("width", [180, 240, 283, 600])
def test_lines_fill_the_room_and_no_more(addon, width, scale):
    context = _context(width * scale, scale)
    room = addon.ui.paragraphs.room_px(context)
    lines = addon.ui.paragraphs.lines(WORDS, room, context)
    import blf

    blf.size(0, 11.0 * scale)
    widths = [blf.dimensions(0, line)[0] for line in lines]
    assert " ".join(lines) == WORDS
    assert max(widths) <= room
    for before, after, used in zip(lines, lines[1:], widths, strict=False):
        first = after.split()[0]
        assert blf.dimensions(0, f"{before} {first}")[0] > room, f"{first!r} had room after {used:.0f} px"


def test_breaks_of_the_text_stay_and_long_words_stand_alone(addon):
    context = _context(180, 1.0)
    lines = addon.ui.paragraphs.lines("One\n  two " + "w" * 60, 50.0, context)
    assert lines == ["One", "two", "w" * 60]


def test_buttons_stand_side_by_side_where_there_is_room(addon):
    is_narrow = addon.ui.paragraphs.is_narrow
    assert is_narrow(_context(180, 1.0)) and is_narrow(_context(360, 2.0))
    assert not is_narrow(_context(283, 1.0))
