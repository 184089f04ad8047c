"""Parts of the scenarios, and where things stand in a window of 1600 x 1000 with factory settings."""

import hashlib
import importlib
import struct
import sys
from collections.abc import Callable, Generator
from pathlib import Path
from typing import Any

import bpy
import drive
import numpy as np

LOOK, READ_VALUES, MAKE, EXPORT = (1165.0, 328.0), (1165.0, 622.0), (1165.0, 555.0), (1165.0, 756.0)
"""Where buttons of the sidebar are looked for first."""
MACHINES = (1076.0, 170.0)
"""The menu of machines, while the first panel is open."""
HEADER_X, FIRST_HEADER_Y, HEADER_STEP = 1120.0, 97.0, 28.0
"""Headers of panels, where those above are closed. Below the last panel the wheel would zoom the viewport."""
BETTER = 62.0
"""So far below the header of the job is that of the search within it."""
TAB = (1299.0, 338.0)


def package() -> str:
    """Name of the installed extension's package."""
    return next(name for name in bpy.context.preferences.addons.keys() if name.endswith(".buckwright"))  # noqa: SIM118


def module(name: str) -> Any:
    """A module of the extension."""
    return importlib.import_module(f"{package()}.{name}")


def results() -> Any:
    """The extension's results."""
    return module("scene.results")


def new_file() -> drive.Script:
    """File > New > General by keys; all that is in it away."""
    bpy.context.preferences.view.show_splash = False
    bpy.context.preferences.filepaths.file_preview_type = "NONE"
    bpy.context.preferences.view.filebrowser_display_type = "SCREEN"
    yield from drive.move(*drive.middle())
    yield from drive.keys("ctrl+n", "Return")
    yield 1.5
    yield from drive.move(*drive.middle())
    yield from drive.keys("a", "Delete")
    yield from drive.until(lambda: not bpy.data.objects, seconds=5, words="an empty scene")


def new_file_with_monkey() -> drive.Script:
    """A new file with a monkey of 170 mm, smoothed; the sidebar's tab."""
    yield from new_file()
    yield from drive.keys("shift+a")
    yield from drive.write("monkey")
    yield from drive.keys("Return")
    yield from drive.until(lambda: "Suzanne" in bpy.data.objects, seconds=5, words="Suzanne is there")
    yield from drive.keys("s")
    yield from drive.write("0.085")
    yield from drive.keys("Return", "ctrl+2", "KP_Decimal", "n")
    yield 1.0
    yield from drive.click(*TAB)
    expect_tab()


def expect_tab() -> None:
    """The sidebar shows the extension's tab.

    Raises
    ------
    WindowError
        It does not.
    """
    sidebar = drive.sidebar()
    drive.expect(sidebar.width > 1, "the sidebar is closed")
    drive.expect(
        sidebar.active_panel_category == "Buckwright", f"{sidebar.active_panel_category} is in front"
    )


def shape() -> str:
    """Tells one shape of Suzanne from another."""
    mesh = bpy.data.objects["Suzanne"].data
    assert isinstance(mesh, bpy.types.Mesh)
    places = np.empty(len(mesh.vertices) * 3, np.float32)
    mesh.vertices.foreach_get("co", places)
    return hashlib.sha256(places.tobytes()).hexdigest()


def sculpt_a_stroke() -> drive.Script:
    """Into Sculpt Mode, a stroke over the brow, and back."""
    x, y = drive.middle()
    yield from drive.move(x - 60, y)
    yield from drive.keys("ctrl+Tab")
    yield 0.6
    # The pie of modes: Sculpt Mode lies straight below.
    yield from drive.click(x - 60, y + 90)
    yield from drive.until(lambda: bpy.context.mode == "SCULPT", seconds=5, words="Sculpt Mode")
    yield 1.5
    yield from drive.drag((x - 120, y - 60), (x - 20, y - 80))
    yield 0.5
    yield from drive.move(x - 60, y)
    yield from drive.keys("ctrl+Tab")
    yield 0.6
    yield from drive.click(x - 60 - 160, y)
    yield from drive.until(lambda: bpy.context.mode == "OBJECT", seconds=5, words="Object Mode")
    yield 1.0


def start(operator: str, **settings: object) -> None:
    """Start a command as its button in the viewport would, with settings that no button has."""
    with bpy.context.temp_override(
        window=bpy.context.window_manager.windows[0], area=drive.viewport(), region=drive.main_region()
    ):
        getattr(bpy.ops.buckwright, operator)("INVOKE_DEFAULT", **settings)


def wait_for_run(command: str, *, picture: str) -> drive.Script:
    """Wait until a run has begun and ended well; keep a picture of the time between.

    Raises
    ------
    WindowError
        It did not begin, or failed.
    """
    running = module("scene.running")
    yield from drive.until(lambda: running.now() is not None, seconds=20, words=f"{command} begins")
    drive.expect(running.now().command == command, f"{running.now().command} runs instead of {command}")
    yield 2.0
    yield from drive.picture(picture)
    yield from wait_for_end(command)


def wait_for_end(command: str) -> drive.Script:
    """Wait until a run that has begun ends well.

    Raises
    ------
    WindowError
        It failed.
    """
    running = module("scene.running")
    yield from drive.until(lambda: running.now() is None, seconds=400, words=f"{command} ends")
    drive.expect(not running.trouble(), running.trouble())
    times = results().facts(bpy.context.scene).get("times_s", {})
    sys.stdout.write(f"{command}: {times}\n")


def wait_for_colours(*, trapped: bool = True) -> drive.Script:
    """Wait until the viewport is painted; whether something is trapped."""
    overlay = module("view.overlay")
    scene = bpy.context.scene
    yield from drive.until(
        lambda: (one := overlay.shown(scene)) is not None and one.batch is not None,
        seconds=10,
        words="colours",
    )
    drive.expect(not trapped or overlay.shown(scene).shares[2] > 0.0, "nothing is trapped")
    yield 0.5


_closed = {"Setups", "Halves", "Colors", "Sheet", "Workshop", "Job"}
"""Panels that are closed; Blender does not tell, but all others begin open."""


def panels() -> list[str]:
    """Names of the panels of the tab, from the top."""
    kept = results().of(bpy.context.scene)
    found = ["Findings"] if kept.made != "NONE" else []
    setups = ["Setups"] if len(kept.setups) > 1 else []
    halves = ["Halves"] if len(kept.planes) > 0 else []
    return ["Sculpt", *setups, *halves, *found, "Colors", "Buck", "Sheet", "Workshop", "Job"]


def open_only(*names: str) -> drive.Script:
    """Close all panels but these: from the top, where places are known, then open from below."""
    present = panels()
    if {name for name in present if name not in _closed} == set(names):
        return
    yield from drive.click(HEADER_X + 40, FIRST_HEADER_Y, button=4, times=25)  # to the upper end
    places = [(HEADER_X, FIRST_HEADER_Y + HEADER_STEP * number) for number in range(len(present))]
    for name, place in zip(present, places, strict=True):
        if name not in _closed:
            yield from drive.click(*place)
            _closed.add(name)
    for name, place in reversed(list(zip(present, places, strict=True))):
        if name in names:
            yield from drive.click(*place)
            _closed.discard(name)
    yield 0.5


def open_better_settings() -> drive.Script:
    """Open the panel with the search, which is closed within that of the job."""
    yield from open_only("Job")
    above = HEADER_STEP * (len(panels()) - 1)
    yield from drive.click(HEADER_X + 40, FIRST_HEADER_Y + above + BETTER)


def expect_one_screen(*, below: int = 0) -> drive.Script:
    """All panels fit the sidebar: it cannot be scrolled.

    Parameters
    ----------
    below : how many headers of closed panels may be out of sight

    Raises
    ------
    WindowError
        They do not.
    """
    yield from drive.click(HEADER_X + 40, FIRST_HEADER_Y, button=4, times=25)
    place = drive.sidebar().view2d.view_to_region(0.0, 0.0, clip=False)
    yield from drive.click(HEADER_X + 40, FIRST_HEADER_Y, button=5, times=25)
    yield 0.5
    lower = drive.sidebar().view2d.view_to_region(0.0, 0.0, clip=False)
    yield from drive.click(HEADER_X + 40, FIRST_HEADER_Y, button=4, times=25)
    over = lower[1] - place[1]
    drive.expect(over <= below * HEADER_STEP, f"the panels are {over} pixels too high")


def press(operator: str, *, near: tuple[float, float], argument: str = "") -> drive.Script:
    """Click the button of an operator with that argument, wherever the panels above it have pushed it."""
    place = yield from find(operator, near=near, argument=argument)
    yield from drive.click(*place)


def find(
    operator: str, *, near: tuple[float, float], argument: str = ""
) -> Generator[float, None, tuple[float, float]]:
    """Put the mouse over the button of an operator with that argument; where that is.

    Over a button Ctrl+C copies its command: the sidebar is searched up and down from `near`.

    Raises
    ------
    WindowError
        No such button is in sight.
    """
    wanted = f"bpy.ops.{operator}({argument}"
    return (yield from _search(lambda text: text.startswith(wanted), "ctrl+c", operator, near))


def _search(
    is_it: Callable[[str], bool], copy: str, words: str, near: tuple[float, float]
) -> Generator[float, None, tuple[float, float]]:
    manager = bpy.context.window_manager
    x, start = near
    steps = [0.0] + [sign * 11.0 * k for k in range(1, 75) for sign in (1, -1)]
    for y in (start + step for step in steps if 90.0 < start + step < 900.0):
        manager.clipboard = ""
        drive.point(x, y)
        yield 0.12
        drive.point(x + 2, y)
        yield 0.12
        drive.key(copy)
        yield 0.12
        if is_it(manager.clipboard):
            return x, y
    raise drive.WindowError(f"there is nothing for {words} in the sidebar")


def find_setting(path: str, *, near: tuple[float, float]) -> Generator[float, None, tuple[float, float]]:
    """Put the mouse over the field of a setting; where that is.

    Over a field Ctrl+Shift+C copies its path: the sidebar is searched up and down from `near`.

    Raises
    ------
    WindowError
        No such field is in sight.
    """
    return (yield from _search(lambda text: text == path, "ctrl+shift+c", path, near))


def export_to(folder: Path, *, picture: str) -> drive.Script:
    """Press the button, type the folder, accept."""
    yield from open_only("Buck")
    yield from press("buckwright.export", near=EXPORT)
    yield from drive.until(_browser, seconds=10, words="the file browser opens")
    yield 1.0
    yield from drive.picture(picture)
    area = _browser()
    assert area is not None
    field = next(region for region in area.regions if region.type == "UI")
    yield from drive.click(
        field.x + field.width * 0.4, drive.from_bottom(field.y + field.height / 2), times=2
    )
    yield from drive.keys("ctrl+a")
    yield from drive.write(str(folder))
    yield from drive.keys("Return")
    yield 1.0
    accept = next(region for region in area.regions if region.type == "EXECUTE")
    place = accept.x + accept.width - 70, drive.from_bottom(accept.y + accept.height / 2)
    # The first click after typing may only leave the field.
    for _ in range(3):
        if _browser() is not None:
            yield from drive.click(*place)
            yield 1.5


def expect_files(folder: Path, *, least: int = 1000) -> None:
    """The files of an export are in a folder, and its STL is whole.

    Raises
    ------
    WindowError
        They are not, or the STL has fewer triangles than `least`.
    """
    names = sorted(path.name for path in folder.iterdir())
    for kind in ("stl", "3mf"):
        drive.expect(any(name.endswith(f"_buck.{kind}") for name in names), f"no {kind} in {folder}: {names}")
    stl = next(folder.glob("*_buck.stl"))
    (triangles,) = struct.unpack("<I", stl.read_bytes()[80:84])
    drive.expect(triangles > least, f"{triangles} triangles in the STL")
    drive.expect(stl.stat().st_size == 84 + 50 * triangles, "the STL is cut off")


def _browser() -> bpy.types.Area | None:
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "FILE_BROWSER":
                return area
    return None


def undo_all() -> drive.Script:
    """Take back export, buck and look, one step of undo each."""
    yield from drive.move(*drive.middle())
    for _ in range(3):
        yield from drive.keys("ctrl+z")
        yield 1.0
