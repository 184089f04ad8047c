"""One sheet with every setup beside the others: from above and from the side, with its figures."""

from collections.abc import Sequence

import numpy as np

from buckwright.findings import rounded
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import png_of
from buckwright.output.canvas.page import Page
from buckwright.output.canvas.palette import INK
from buckwright.output.canvas.views import FRONT
from buckwright.pose.setups.images import setup_shots
from buckwright.pose.setups.search import Setup

__all__ = ["draw_setups"]

_COLUMN_PX, _LEFT_PX = 312, 20
_TOP_ROOM, _SIDE_ROOM = (720, 340), (330, 300)  # lower edge and height, units of the layout
_WORDS_PX = 255


def draw_setups(shape: Mesh, setups: Sequence[Setup], *, title: str, taken: int) -> dict[str, bytes]:
    """Draw the setups side by side.

    Parameters
    ----------
    shape : the sculpt in its own axes, simplified, mm
    setups : the best first, up to five
    title : the job's name, any script
    taken : number of the one that was taken, from 1

    Returns
    -------
    PNG bytes by file name: setups.png (1120 x 840)
    """
    plate = Page(title, "Setups to choose from, the best first: seen down the pull, and from the side")
    for n, setup in enumerate(setups):
        _draw(plate, shape, setup, number=n + 1, taken=n + 1 == taken, left=_LEFT_PX + n * _COLUMN_PX)
    return {"setups.png": png_of(plate)}


def _draw(plate: Page, mesh: Mesh, setup: Setup, *, number: int, taken: bool, left: int) -> None:
    rooms = (_TOP_ROOM, _SIDE_ROOM)
    shots = setup_shots(mesh, setup, width=_COLUMN_PX - 24, heights=(_TOP_ROOM[1] - 10, _SIDE_ROOM[1] - 10))
    for (bottom, height), (shot, pixels) in zip(rooms, shots, strict=True):
        axes = plate.show(shot, pixels, room=(left, bottom, _COLUMN_PX - 16, height))
        if shot.view is FRONT and setup.figures.sink_mm > 0.0:
            floor = float((mesh.vertices @ np.array(setup.direction)).min()) + setup.figures.sink_mm
            axes.axhline(floor, color=INK, linewidth=1.6, linestyle=(0, (8, 3)))
    plate.words(left, 1078, f"Setup {number}{', taken' if taken else ''}", size=15, weight="bold")
    for n, words in enumerate(_words(setup)):
        plate.words(left, _WORDS_PX - 23 * n, words, size=11.5)


def _words(setup: Setup) -> list[str]:
    one = setup.figures
    pull = ", ".join(f"{round(part, 2) + 0.0:.2f}" for part in setup.direction)
    sunk = f"sunk {one.sink_mm:.1f} mm (hatched: cut off)" if one.sink_mm > 0.0 else "not sunk"
    return [
        f"pull ({pull})",
        sunk,
        f"{one.height_mm:.0f} mm tall, outline {one.footprint_mm2 / 100.0:.0f} cm2",
        f"fill about {rounded(one.fill_volume_mm3 / 1000.0, 3)} cm3",
        f"cut off {rounded(one.cut_volume_mm3 / 1000.0, 3)} cm3",
        f"trapped {rounded(one.trapped_area_mm2 / 100.0, 3)} cm2",
        f"buried or cut off {rounded(one.buried_area_mm2 / 100.0, 3)} cm2",
        f"detail lost {one.lost_share:.0%}",
        f"thinnest 5 %: {setup.thin_share:.0%} of the sheet, ±{max(setup.thin_spread, 0.01):.0%}",
        f"score {setup.cost:.3f} (less is better)",
    ]
