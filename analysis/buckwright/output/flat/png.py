"""Flat drawings as PNG at 1:1: so many dots per inch, which the file states, and no page around them."""

import io
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.output.flat.drawing import FlatDrawing, Layer

__all__ = ["MOST_PIXELS", "image_size", "png_bytes"]

MOST_PIXELS = 200_000_000
"""A square metre at 360 dots per inch; takes 0.8 GB. House rule."""

_INCH_MM = 25.4
_GREY: dict[Layer, int] = {"cut": 0, "score": 0, "engrave": 90, "reference": 140}
_LINE_MM: dict[Layer, float] = {"cut": 0.35, "score": 0.25, "engrave": 0.25, "reference": 0.18}


def image_size(size_mm: NDArray[np.float64], dots_per_inch: float) -> tuple[int, int]:
    """Width and height in pixels.

    Parameters
    ----------
    size_mm : (2,) width and depth of a drawing
    dots_per_inch : of its picture

    Raises
    ------
    InputError
        More than `MOST_PIXELS`.
    """
    width, height = (max(round(float(side) * dots_per_inch / _INCH_MM), 1) for side in size_mm)
    if width * height > MOST_PIXELS:
        raise InputError(
            f"a picture of {size_mm[0]:.0f} x {size_mm[1]:.0f} mm at {dots_per_inch:g} dots per inch has "
            f"{width * height / 1e6:.0f} million pixels; choose a lower resolution"
        )
    return width, height


def png_bytes(drawing: FlatDrawing, *, dots_per_inch: float) -> bytes:
    """Encode a drawing within the bounds of its lines; clear where nothing is drawn.

    Parameters
    ----------
    drawing : mm
    dots_per_inch : stated in the file, so that programs print it at 1:1

    Returns
    -------
    bytes : the same for the same drawing
    """
    from PIL import Image, ImageDraw

    low, high = drawing.bounds
    size = image_size(high - low, dots_per_inch)
    scale = np.array(size) / (high - low)
    sheet = Image.new("RGBA", size, (255, 255, 255, 0))
    if drawing.image is not None:
        _lay(sheet, drawing, low, high, scale)
    pen = ImageDraw.Draw(sheet)

    def at(points: Any) -> list[tuple[float, float]]:
        places = (np.array([[1.0, -1.0]]) * (np.atleast_2d(points) - [low[0], high[1]])) * scale
        return [(float(x), float(y)) for x, y in places]

    for line in drawing.lines:
        ring = at(line.points)
        wide = max(round(_LINE_MM[line.layer] * scale[0]), 1)
        pen.line([*ring, ring[0]] if line.closed else ring, fill=_ink(line.layer), width=wide, joint="curve")
    for circle in drawing.circles:
        reach = np.array([circle.radius_mm, -circle.radius_mm])
        middle = np.array([circle.x, circle.y])
        wide = max(round(_LINE_MM[circle.layer] * scale[0]), 1)
        pen.ellipse([*at(middle - reach), *at(middle + reach)], outline=_ink(circle.layer), width=wide)
    for words in drawing.words:
        font = _font(max(round(words.height_mm * 1.4 * scale[1]), 6))
        pen.text(at((words.x, words.y))[0], words.text, fill=_ink("cut"), font=font, anchor="ls")
    file = io.BytesIO()
    sheet.save(file, "PNG", dpi=(dots_per_inch, dots_per_inch))
    return file.getvalue()


def _lay(sheet: Any, drawing: FlatDrawing, low: Any, high: Any, scale: Any) -> None:
    """Put the pixels where they belong; they are as fine as the sheet."""
    from PIL import Image

    held = drawing.image
    assert held is not None
    corner = (held.x - low[0]) * scale[0], (high[1] - held.y - held.depth_mm) * scale[1]
    wanted = round(held.width_mm * scale[0]), round(held.depth_mm * scale[1])
    pixels = Image.fromarray(held.pixels)
    if pixels.size != wanted:
        pixels = pixels.resize(wanted)
    sheet.paste(pixels, (round(corner[0]), round(corner[1])))


def _ink(layer: Layer) -> tuple[int, int, int, int]:
    return (*(_GREY[layer],) * 3, 255)


@cache
def _font(size: int) -> Any:
    """The font of the pictures, which comes along with their library."""
    from matplotlib.font_manager import findfont
    from PIL import ImageFont

    return ImageFont.truetype(findfont("DejaVu Sans"), size)
