"""What all pictures share: encoding, the size line, axes, and the legend of vents."""

from collections.abc import Callable, Mapping, Sequence
from io import BytesIO

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.marks import HIDDEN_VENT_STYLES, VENT_STYLES, VentMark
from buckwright.output.canvas.page import Page
from buckwright.output.canvas.views import View

__all__ = ["directions", "drawn", "explain_vents", "png_of", "size_words"]


def size_words(mesh: Mesh, faces: int | None = None) -> str:
    """Size and number of faces, for the line under the title.

    Parameters
    ----------
    mesh : in the pull frame, mm
    faces : how many are told, where those of `mesh` were only made to be drawn

    Returns
    -------
    str
    """
    x, y, z = mesh.size
    count = mesh.face_count if faces is None else faces
    return f"{x:.1f} \u00d7 {y:.1f} \u00d7 {z:.1f} mm (x \u00d7 y \u00d7 z), {count:,} faces"


def drawn(
    makers: Mapping[str, Callable[[], Page]], *, tick: Callable[[float], None] | None
) -> dict[str, bytes]:
    """Make the plates one after the other.

    Parameters
    ----------
    makers : file name to a function that draws the plate
    tick : called with the share done, 0..1, after each plate; may raise to stop

    Returns
    -------
    dict of str to bytes : PNG by file name
    """
    pictures = {}
    for done, (name, make) in enumerate(makers.items(), start=1):
        pictures[name] = png_of(make())
        if tick is not None:
            tick(done / len(makers))
    return pictures


def png_of(plate: Page) -> bytes:
    """Encode a plate as PNG.

    Parameters
    ----------
    plate : a finished picture

    Returns
    -------
    bytes
    """
    file = BytesIO()
    plate.save(file)
    return file.getvalue()


def explain_vents(plate: Page, vents: Sequence[VentMark], *, hidden: int) -> None:
    """Legend lines for vents: how many, how wide, and what a cross means if there are any.

    Parameters
    ----------
    plate : written to
    vents : as drawn; nothing is written without any
    hidden : number of vents drawn as a cross
    """
    if not vents:
        return
    low, high = (choose(vent.diameter_mm for vent in vents) for choose in (min, max))
    across = f"{low:.2g}" if high - low < 0.005 else f"{low:.2g} to {high:.2g}"
    count = f"{len(vents)} vent{'s' if len(vents) > 1 else ''}"
    plate.column.sample(f"{count}, {across} mm across", *VENT_STYLES)
    if hidden:
        plate.column.sample(f"hidden from here ({hidden} of them)", *HIDDEN_VENT_STYLES)


def directions(plate: Page, view: View) -> None:
    """Which way the axes point, in the corner under the picture.

    Parameters
    ----------
    plate : written to
    view : of the picture
    """
    right, up = (_axis_name(row) for row in view.turn[:2])
    plate.words(760, 56, f"right is {right},  up is {up}  (the pull is +z)")


def _axis_name(row: NDArray[np.float64]) -> str:
    axis = int(np.abs(row).argmax())
    return f"{'+' if row[axis] > 0 else '\u2212'}{'xyz'[axis]}"
