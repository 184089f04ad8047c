"""One sheet with every plane beside the others: both halves seen along the seam, with their figures."""

from collections.abc import Sequence

from buckwright.findings import rounded
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import png_of
from buckwright.output.canvas.page import Page
from buckwright.output.canvas.palette import INK
from buckwright.output.canvas.views import FRONT, RIGHT
from buckwright.pose.halves.search import PartingPlane
from buckwright.pose.setups.images import cut_shots

__all__ = ["draw_halves"]

_COLUMN_PX, _LEFT_PX = 500, 24
_VIEWS = (FRONT, RIGHT)
_ROOMS = ((700, 350), (320, 340))  # lower edge and height, units of the layout
_WORDS_PX = 240


def draw_halves(shape: Mesh, planes: Sequence[PartingPlane], *, title: str, taken: int) -> dict[str, bytes]:
    """Draw the planes side by side.

    Parameters
    ----------
    shape : the sculpt in its own axes, simplified, mm
    planes : the best first, up to three
    title : the job's name, any script
    taken : number of the one that was taken, from 1

    Returns
    -------
    PNG bytes by file name: halves.png
    """
    words = "Planes to choose from, the best first: half A above the line, half B hatched below it"
    plate = Page(title, words)
    for n, plane in enumerate(planes):
        _draw(plate, shape, plane, number=n + 1, taken=n + 1 == taken, left=_LEFT_PX + n * _COLUMN_PX)
    return {"halves.png": png_of(plate)}


def _draw(plate: Page, mesh: Mesh, plane: PartingPlane, *, number: int, taken: bool, left: int) -> None:
    width = _COLUMN_PX - 24
    rooms = tuple((view, width, height - 10) for view, (_, height) in zip(_VIEWS, _ROOMS, strict=True))
    shots = cut_shots(mesh, plane.normal, plane.offset_mm, rooms)
    for (shot, pixels), (bottom, height) in zip(shots, _ROOMS, strict=True):
        axes = plate.show(shot, pixels, room=(left, bottom, _COLUMN_PX - 16, height))
        axes.axhline(plane.offset_mm, color=INK, linewidth=1.6, linestyle=(0, (8, 3)))
    plate.words(left, 1078, f"Plane {number}{', taken' if taken else ''}", size=15, weight="bold")
    for n, words in enumerate(_words(plane)):
        plate.words(left, _WORDS_PX - 23 * n, words, size=11.5)


def _words(plane: PartingPlane) -> list[str]:
    across = ", ".join(f"{round(part, 2) + 0.0:.2f}" for part in plane.normal)
    tall = " and ".join(f"{half.height_mm:.0f}" for half in plane.halves)
    fill = sum(half.fill_volume_mm3 for half in plane.halves)
    trapped = sum(half.trapped_area_mm2 for half in plane.halves)
    return [
        f"across ({across}) at {round(plane.offset_mm, 1) + 0.0:.1f} mm",
        f"halves {tall} mm tall",
        f"fill about {rounded(fill / 1000.0, 3)} cm3",
        f"trapped {rounded(trapped / 100.0, 3)} cm2",
        f"detail hidden in both {plane.hidden_share:.0%}",
        f"detail on the seam {plane.seam_share:.0%}",
        *(["the halves are mirror images"] if plane.symmetrical else []),
        f"score {plane.cost:.3f} (less is better)",
    ]
