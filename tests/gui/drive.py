"""Drives Blender's window by real mouse clicks and keys, from inside: a script is a generator of waits.

Places are pixels from the top left of a window of 1600 x 1000 with factory settings.
"""

import os
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Generator
from pathlib import Path

import bpy
from bpy.app.handlers import persistent

OUT = Path(os.environ.get("BUCKWRIGHT_GUI_OUT", bpy.app.tempdir))
"""Where pictures and results go."""
_SHOT = bpy.app.driver_namespace.get("gui_shot")
type Script = Generator[float]
"""Yields how many seconds to wait."""


class WindowError(AssertionError):
    """The window did not do what it should."""


def _tool(*words: object) -> None:
    subprocess.run(["xdotool", *map(str, words)], check=True, timeout=20)


def point(x: float, y: float) -> None:
    """Put the mouse there at once."""
    _tool("mousemove", round(x), round(y))


def key(name: str) -> None:
    """Press a key at once."""
    _tool("key", name)


def move(x: float, y: float) -> Script:
    """Move the mouse there."""
    _tool("mousemove", round(x), round(y))
    yield 0.15


def click(x: float, y: float, *, button: int = 1, times: int = 1) -> Script:
    """Click there; the mouse first passes nearby, so that Blender notices where it is."""
    _tool("mousemove", round(x) - 3, round(y) - 2)
    yield 0.15
    _tool("mousemove", round(x), round(y))
    yield 0.25
    _tool("click", "--repeat", times, "--delay", 60, button)
    yield 0.35


def drag(
    start: tuple[float, float], end: tuple[float, float], *, steps: int = 8, let_go: bool = True
) -> Script:
    """Press at one place, move to another in steps, let go."""
    _tool("mousemove", *map(round, start))
    yield 0.3
    _tool("mousedown", 1)
    yield 0.2
    for k in range(1, steps + 1):
        _tool("mousemove", *(round(a + (b - a) * k / steps) for a, b in zip(start, end, strict=True)))
        yield 0.06
    if let_go:
        _tool("mouseup", 1)
    yield 0.3


def keys(*names: str) -> Script:
    """Press keys one after the other, by their X names (ctrl+n, Escape, Return)."""
    for name in names:
        _tool("key", name)
        yield 0.25


def write(text: str) -> Script:
    """Type text."""
    _tool("type", "--delay", 25, text)
    yield 0.3


def until(holds: Callable[[], object], *, seconds: float, words: str) -> Script:
    """Wait until something holds.

    Raises
    ------
    WindowError
        It does not within the time.
    """
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            raise WindowError(f"after {seconds:g} s still not so: {words}")
        yield 0.1


def expect(holds: object, words: str) -> None:
    """Go on only if something holds.

    Raises
    ------
    WindowError
        It does not.
    """
    if not holds:
        raise WindowError(words)


def picture(name: str) -> Script:
    """Keep what the window shows."""
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            area.tag_redraw()
    yield 0.8
    path = OUT / f"{name}.png"
    if _SHOT is not None:
        _SHOT(str(path))
    else:
        bpy.ops.screen.screenshot(filepath=str(path))


def viewport() -> bpy.types.Area:
    """The 3D viewport of the first window."""
    return next(area for area in bpy.context.window_manager.windows[0].screen.areas if area.type == "VIEW_3D")


def sidebar() -> bpy.types.Region:
    """The sidebar of the viewport."""
    return next(region for region in viewport().regions if region.type == "UI")


def main_region() -> bpy.types.Region:
    """The part of the viewport that shows the scene."""
    return next(region for region in viewport().regions if region.type == "WINDOW")


def from_bottom(y: float) -> float:
    """Blender counts pixels from the bottom, the mouse from the top."""
    return bpy.context.window_manager.windows[0].height - y


def middle() -> tuple[float, float]:
    """Middle of the viewport, in the mouse's pixels."""
    region = main_region()
    return region.x + region.width / 2, from_bottom(region.y + region.height / 2)


@persistent
def _stay_busy(*_args: object) -> None:
    """Keep the launcher from ending Blender."""
    bpy.app.driver_namespace["gui_busy"] = True


def run(script: Callable[[], Script]) -> None:
    """Run a script by a timer, tell how it went, and let the launcher end Blender."""
    _stay_busy()
    # Blender empties the namespace whenever a file is opened.
    bpy.app.handlers.load_post.append(_stay_busy)
    steps = script()
    begun = time.monotonic()

    def step() -> float | None:
        try:
            return next(steps)
        except StopIteration:
            _end(0, f"passed in {time.monotonic() - begun:.0f} s")
        except BaseException:
            traceback.print_exc()
            _end(1, "FAILED")
        return None

    def _end(code: int, words: str) -> None:
        sys.stdout.write(f"{script.__module__}.{script.__name__}: {words}\n")
        sys.stdout.flush()
        bpy.app.handlers.load_post.remove(_stay_busy)
        bpy.app.driver_namespace["gui_exit"] = code
        bpy.app.driver_namespace["gui_busy"] = False

    bpy.app.timers.register(step, first_interval=1.5, persistent=True)
