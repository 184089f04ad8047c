"""The first ten minutes with the extension, from a clean profile: what three users have in common.

Each step ends in a picture `first_<user>_<number>_<step>.png`, and in what can be told of it without eyes.
"""

import os
import sys
import time
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from pathlib import Path

import bpy
import drive
import numpy as np
import parts
import seen
from bpy_extras import view3d_utils

SCULPTS = drive.OUT / "sculpts"
ZIP = Path(os.environ.get("BUCKWRIGHT_ZIP", ""))
SPOT = (1254.0, 370.0)
"""The button of the first place, while only the sheet's panel is open and the list needs no bar."""
_BAR, _ROWS = 19.0, 5
"""Width of the bar that scrolls a list, and how many rows a list has without it."""
_COLOURED = 0.15
"""Least share of the box around what is painted, seen aslant, that has a colour."""
_GREY = 0.05
"""Most of it before: axes and outline have a colour."""
_ARROW_PIXELS = 40


class Minutes:
    """One user's way, and the pictures of it.

    Attributes
    ----------
    user : a word for the user
    setup : number of the setup that is chosen
    """

    def __init__(self, user: str, *, setup: int = 1) -> None:
        self.user, self.setup = user, setup
        self._number = 0

    def picture(self, words: str, *, dots: int = 0) -> drive.Script:
        """Keep what the window shows under the next number; no text of the sidebar is cut.

        Parameters
        ----------
        dots : how many times dots stand in a text as it is
        """
        self._number += 1
        yield from drive.picture(self._name(words))
        self._last = seen.read(drive.OUT / f"{self._name(words)}.png")
        cuts = seen.cuts(self._last, _sidebar())
        drive.expect(len(cuts) == dots, f"{len(cuts)} texts of the sidebar are cut: {cuts}")

    def _name(self, words: str) -> str:
        return f"first_{self.user}_{self._number:02}_{words}"

    def install(self) -> drive.Script:
        """Install the zip from disk, in a window whose profile has nothing of the extension."""
        drive.expect(ZIP.is_file(), "BUCKWRIGHT_ZIP names no zip")
        drive.expect(not any("buckwright" in one for one in _addons()), "the profile is not clean")
        bpy.context.preferences.view.show_splash = False
        begun = time.monotonic()
        bpy.ops.extensions.package_install_files(
            filepath=str(ZIP), repo="user_default", enable_on_install=True
        )
        sys.stdout.write(f"installed in {time.monotonic() - begun:.1f} s\n")
        drive.expect(any("buckwright" in one for one in _addons()), "the extension is not on")
        yield 0.5

    def opened(self, *, dots: int = 0) -> drive.Script:
        """The sculpt is in the scene: show it, open the sidebar and the tab by keys and mouse.

        A name that has no room shows that cut texts are noticed.
        """
        yield from drive.move(*drive.middle())
        yield from drive.keys("Home", "n")
        yield 1.0
        yield from drive.click(*parts.TAB)
        parts.expect_tab()
        sculpt = _sculpt()
        name, sculpt.name = sculpt.name, "A name so long that a sidebar has no room for all of it"
        yield from drive.picture(f"first_{self.user}_cut")
        cut = seen.cuts(seen.read(drive.OUT / f"first_{self.user}_cut.png"), _sidebar())
        drive.expect(len(cut) == 1 + dots, f"{len(cut)} cut texts are noticed: {cut}")
        sculpt.name = name
        yield from self.picture("opened", dots=dots)
        share = seen.coloured(self._last, seen.box_of(seen.corners(_sculpt())))
        drive.expect(share < _GREY, f"{share:.0%} has a colour before anything was pressed")
        yield from parts.expect_one_screen()

    def look(self, words: str = "look") -> drive.Script:
        """Press Look: draft at once, then all that is found, with the arrow of the pull."""
        place = yield from parts.find("buckwright.look", near=parts.LOOK)
        with _first_colours() as first:
            yield from drive.click(*place)
            yield from drive.until(first, seconds=20, words="first colours")
        sys.stdout.write(f"{self.user}: first colours after {first():.2f} s, {words}\n")
        yield from self.picture(f"first_colours_{words}")
        self._expect_colours(_sculpt())
        yield from parts.wait_for_end("look")
        yield from parts.wait_for_colours(trapped=False)
        yield from drive.move(*drive.middle())
        yield from self.picture(words)
        self._expect_colours(_sculpt())
        self._expect_arrow()
        yield from parts.expect_one_screen()

    def choose(self) -> drive.Script:
        """Take a setup from the list, by its picture and figures."""
        yield from parts.open_only("Setups")
        yield from self.picture("setups")
        yield from parts.expect_one_screen(below=5)
        yield from parts.press("buckwright.take_setup", argument=f"number={self.setup}", near=parts.LOOK)
        taken = parts.module("scene.setup_choices").is_taken
        scene = bpy.context.scene
        yield from drive.until(lambda: taken(scene, self.setup), seconds=5, words="the setup is taken")
        yield from self.picture("chosen")
        self._expect_arrow()  # along the setup that was clicked

    def make(self) -> drive.Script:
        """Make the buck with that setup."""
        yield from parts.open_only("Sculpt", "Findings", "Buck")
        yield from parts.press("buckwright.make", near=parts.MAKE)
        yield from parts.wait_for_run("make", picture=f"{self._name('made')}_meanwhile")
        scene = bpy.context.scene
        drive.expect(parts.module("scene.visibility").buck_is_seen(scene), "the buck is hidden")
        (buck,) = parts.results().objects(scene, "BUCK")
        drive.expect(bpy.context.view_layer.objects.active == buck, "the buck is not active")
        yield from drive.move(*drive.middle())
        yield from self.picture("made")
        self._expect_arrow()
        yield from parts.expect_one_screen()

    def move_a_vent(self) -> drive.Script:
        """Click a vent, move it by G and the mouse, make again: it is drilled where it was put."""
        scene, marks = bpy.context.scene, parts.module("scene.hand_marks")
        x, y = yield from _choose_a_vent()
        yield from drive.keys("g")
        yield from drive.move(x + 8, y + 4)
        yield from drive.move(x + 16, y + 8)
        yield from drive.click(x + 16, y + 8)
        yield 0.5
        moved = [one for one in marks.vent_objects(scene) if marks.is_moved(one)]
        drive.expect(len(moved) == 1, f"{len(moved)} vents were moved")
        yield from self.picture("vent_moved")
        drive.expect(
            parts.module("scene.staleness").seen(scene, "buck_from"),
            "a moved vent leaves the buck up to date",
        )
        yield from parts.expect_one_screen(below=1)  # that it is out of date takes a row

    def forecast(self) -> drive.Script:
        """Forecast the sheet: its thickness is painted on what is formed."""
        yield from parts.open_only("Sheet")
        yield from parts.press("buckwright.forecast", near=parts.LOOK)
        yield from parts.wait_for_run("forecast", picture=f"{self._name('forecast')}_meanwhile")
        yield from parts.wait_for_colours(trapped=False)
        yield from drive.move(*drive.middle())
        yield from self.picture("forecast")
        (sheet,) = parts.results().objects(bpy.context.scene, "SHEET")
        self._expect_colours(sheet)
        yield from parts.expect_one_screen()

    def thinnest(self) -> drive.Script:
        """Go to the thinnest place: it is in the middle, near and marked."""
        scene = bpy.context.scene
        spots = parts.results().of(scene).spots
        x = SPOT[0] - (_BAR if len(spots) > _ROWS else 0.0)
        yield from parts.press("buckwright.show_spot", argument="index=0", near=(x, SPOT[1]))
        spot = spots[0]
        drive.expect(spot.kind == "WEAKEST", f"the first place is {spot.words}")
        yield from drive.move(*drive.middle())
        yield from self.picture("thinnest")
        drive.expect(parts.module("view.highlight").shown(scene) is not None, "the place is not marked")
        left, bottom, right, top = seen.box_of(np.array([spot.centre]), room=60)
        drive.expect(right - left == 120 and top - bottom == 120, "the place is at the edge of the view")
        share = seen.coloured(self._last, (left, bottom, right, top))
        drive.expect(share > _COLOURED, f"{share:.0%} around the thinnest place has a colour")

    def export(self) -> drive.Script:
        """Export into a folder; the files are there, the STL whole."""
        folder = drive.OUT / f"first_{self.user}"
        folder.mkdir(parents=True, exist_ok=True)
        for old in folder.iterdir():
            old.unlink()
        yield from parts.export_to(folder, picture=self._name("browser"))
        yield from parts.wait_for_run("make", picture=f"{self._name('exported')}_meanwhile")
        yield from self.picture("exported")
        parts.expect_files(folder)
        yield from parts.expect_one_screen()

    def _expect_colours(self, obj: bpy.types.Object) -> None:
        share = seen.coloured(self._last, seen.box_of(seen.corners(obj)))
        sys.stdout.write(f"{self._name('')}: {share:.0%} has a colour\n")
        drive.expect(share > _COLOURED, f"only {share:.0%} around '{obj.name}' has a colour")

    def _expect_arrow(self) -> None:
        sign = parts.module("view.pull_sign")
        found = sign.sign_of(bpy.context.scene)
        drive.expect(found is not None, "there is no arrow")
        box = seen.box_of(found.arrow, room=3)
        pixels = seen.alike(self._last, box, sign._ARROW)
        drive.expect(pixels > _ARROW_PIXELS, f"{pixels} pixels of the arrow are seen")


def all_steps(minutes: Minutes) -> drive.Script:
    """From the first look to the files."""
    yield from minutes.look()
    yield from minutes.choose()
    yield from minutes.make()
    yield from minutes.move_a_vent()
    yield from minutes.forecast()
    yield from minutes.thinnest()
    yield from minutes.export()


def _addons() -> list[str]:
    return list(bpy.context.preferences.addons.keys())


def _sidebar() -> seen.Box:
    region = drive.sidebar()
    return region.x, region.y, region.x + region.width, region.y + region.height


def _sculpt() -> bpy.types.Object:
    return next(one for one in bpy.context.scene.objects if one.get("user_sculpt"))


@contextmanager
def _first_colours() -> Iterator[Callable[[], float]]:
    """Within it: seconds from its beginning to the first picture with colours; 0 until then."""
    overlay, begun, found = parts.module("view.overlay"), time.monotonic(), [0.0]

    def drawn() -> None:
        one = overlay.shown(bpy.context.scene)
        if one is not None and one.batch is not None and not found[0]:
            found[0] = time.monotonic() - begun

    handle = bpy.types.SpaceView3D.draw_handler_add(drawn, (), "WINDOW", "POST_PIXEL")
    try:
        yield lambda: found[0]
    finally:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")


def _choose_a_vent() -> Generator[float, None, tuple[float, float]]:
    """Click vents in the viewport until one is chosen; where the mouse then is."""
    scene, region = bpy.context.scene, drive.main_region()
    view = drive.viewport().spaces.active.region_3d
    for marker in parts.results().objects(scene, "VENT"):
        spot = view3d_utils.location_3d_to_region_2d(region, view, marker.matrix_world.translation)
        if spot is None or not 60 < spot.x < region.width - 330 or not 60 < spot.y < region.height - 100:
            continue
        place = region.x + spot.x, drive.from_bottom(region.y + spot.y)
        yield from drive.click(*place)
        if marker.select_get():
            return place
    raise drive.WindowError("no vent could be clicked")
