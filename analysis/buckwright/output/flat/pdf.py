"""Flat drawings as PDF at 1:1, each cut into pages that are laid edge to edge."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from buckwright.output.flat.drawing import FlatDrawing, Image, Layer, Line, bar

__all__ = ["PAGES", "Page", "Tiling", "pdf_bytes", "tiling_of"]

type Page = Literal["A4", "Letter"]

PAGES: dict[str, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height of a page, mm: ISO 216, ANSI/ASME Y14.1."""

_POINT_MM = 25.4 / 72.0
# Printers leave about 6 mm bare at each edge: common practice, no source.
_MARGIN_MM = 12.0
_OVERLAP_MM = 10.0
_HEAD_MM = 18.0
_BAR_MM = 100.0
_GREY: dict[Layer, float] = {"cut": 0.0, "score": 0.0, "engrave": 0.35, "reference": 0.55}
_DASH: dict[Layer, tuple[float, ...]] = {
    "cut": (),
    "score": (3.0, 1.5),
    "engrave": (0.6, 1.2),
    "reference": (),
}
_LINE_MM: dict[Layer, float] = {"cut": 0.25, "score": 0.2, "engrave": 0.2, "reference": 0.12}


@dataclass(frozen=True, slots=True)
class Tiling:
    """How a drawing is spread over pages.

    Attributes
    ----------
    columns, rows : pages beside and above one another
    inside_mm : width and height of the drawing that a page shows; neighbours share the overlap
    turned : whether pages lie on their side
    """

    columns: int
    rows: int
    inside_mm: tuple[float, float]
    turned: bool

    @property
    def pages(self) -> int:
        """Number of pages."""
        return self.columns * self.rows


def tiling_of(size_mm: NDArray[np.float64], page: Page) -> Tiling:
    """The way to lay out pages that takes the fewest; upright where both take as many.

    Parameters
    ----------
    size_mm : (2,) width and depth of the drawing
    page : 'A4' or 'Letter'
    """
    found = []
    for turned in (False, True):
        width, height = PAGES[page][::-1] if turned else PAGES[page]
        inside = (width - 2.0 * _MARGIN_MM, height - 2.0 * _MARGIN_MM - _HEAD_MM)
        columns, rows = (_tiles(float(size), room) for size, room in zip(size_mm, inside, strict=True))
        found.append(Tiling(columns, rows, inside, turned))
    return min(found, key=lambda tiling: tiling.pages)


def _tiles(size: float, room: float) -> int:
    if size <= room:
        return 1
    return 1 + int(np.ceil((size - room) / (room - _OVERLAP_MM) - 1e-9))


def pdf_bytes(drawings: Sequence[FlatDrawing], *, page: Page, title: str) -> bytes:
    """Encode drawings, one after the other.

    Parameters
    ----------
    drawings : mm
    page : size of the paper
    title : of the document

    Returns
    -------
    bytes : the same for the same drawings

    Notes
    -----
    Every page carries the drawing's title, its own number among them, a map of the pages, crosses at the
    corners of the part that it shows, and bars of 100 mm both ways to check that the print is true.
    """
    from reportlab.pdfgen.canvas import Canvas

    stream = io.BytesIO()
    canvas = Canvas(stream, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("Buckwright")
    for drawing in drawings:
        low, high = drawing.bounds
        tiling = tiling_of(high - low, page)
        for number in range(tiling.pages):
            _draw_page(canvas, drawing, tiling, number, page=page, low=low)
            canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _draw_page(
    canvas: Any, drawing: FlatDrawing, tiling: Tiling, number: int, *, page: Page, low: NDArray[np.float64]
) -> None:
    width, height = PAGES[page][::-1] if tiling.turned else PAGES[page]
    canvas.setPageSize((width / _POINT_MM, height / _POINT_MM))
    canvas.scale(1.0 / _POINT_MM, 1.0 / _POINT_MM)
    row, column = divmod(number, tiling.columns)
    row = tiling.rows - 1 - row
    step = np.array(tiling.inside_mm) - _OVERLAP_MM
    corner = low + step * (column, row)
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(_MARGIN_MM, _MARGIN_MM, *tiling.inside_mm)
    canvas.clipPath(frame, stroke=0, fill=0)
    canvas.translate(_MARGIN_MM - float(corner[0]), _MARGIN_MM - float(corner[1]))
    _draw(canvas, drawing)
    canvas.restoreState()
    _draw_marks(canvas, tiling)
    _draw_head(canvas, drawing, tiling, number, height)


def _draw(canvas: Any, drawing: FlatDrawing) -> None:
    if drawing.image is not None:
        _draw_image(canvas, drawing.image)
    _draw_lines(canvas, drawing.lines)
    for circle in drawing.circles:
        _pen(canvas, circle.layer)
        canvas.circle(circle.x, circle.y, circle.radius_mm, stroke=1, fill=0)
    canvas.setFillGray(0.0)
    for words in drawing.words:
        canvas.setFont("Helvetica", words.height_mm * 1.4)
        canvas.drawString(words.x, words.y, words.text)


def _draw_image(canvas: Any, image: Image) -> None:
    """Pixels on white, because a print has no other ground."""
    from PIL import Image as Pixels
    from reportlab.lib.utils import ImageReader

    ground = Pixels.new("RGBA", image.pixels.shape[1::-1], "white")
    ground.alpha_composite(Pixels.fromarray(image.pixels))
    canvas.drawImage(ImageReader(ground.convert("RGB")), image.x, image.y, image.width_mm, image.depth_mm)


def _draw_lines(canvas: Any, lines: Sequence[Line]) -> None:
    for line in lines:
        _pen(canvas, line.layer)
        path = canvas.beginPath()
        path.moveTo(*line.points[0].tolist())
        for x, y in line.points[1:].tolist():
            path.lineTo(x, y)
        if line.closed:
            path.close()
        canvas.drawPath(path, stroke=1, fill=0)


def _pen(canvas: Any, layer: Layer) -> None:
    canvas.setStrokeGray(_GREY[layer])
    canvas.setLineWidth(_LINE_MM[layer])
    canvas.setDash(*((list(_DASH[layer]), 0) if _DASH[layer] else ([], 0)))


def _draw_marks(canvas: Any, tiling: Tiling) -> None:
    """Crosses where neighbouring pages meet."""
    _pen(canvas, "reference")
    width, height = tiling.inside_mm
    for x in (_MARGIN_MM, _MARGIN_MM + width):
        for y in (_MARGIN_MM, _MARGIN_MM + height):
            canvas.line(x - 4.0, y, x + 4.0, y)
            canvas.line(x, y - 4.0, x, y + 4.0)
    inner = _OVERLAP_MM / 2.0
    for x in (_MARGIN_MM + inner, _MARGIN_MM + width - inner):
        canvas.line(x, _MARGIN_MM - 3.0, x, _MARGIN_MM)
        canvas.line(x, _MARGIN_MM + height, x, _MARGIN_MM + height + 3.0)
    for y in (_MARGIN_MM + inner, _MARGIN_MM + height - inner):
        canvas.line(_MARGIN_MM - 3.0, y, _MARGIN_MM, y)
        canvas.line(_MARGIN_MM + width, y, _MARGIN_MM + width + 3.0, y)


def _draw_head(canvas: Any, drawing: FlatDrawing, tiling: Tiling, number: int, height: float) -> None:
    canvas.setFillGray(0.0)
    top = height - _MARGIN_MM
    canvas.setFont("Helvetica-Bold", 4.2)
    canvas.drawString(_MARGIN_MM, top - 3.5, drawing.title)
    canvas.setFont("Helvetica", 3.2)
    row, column = divmod(number, tiling.columns)
    canvas.drawString(
        _MARGIN_MM, top - 7.6, f"Print at 100 %, never 'fit to page'; both bars must measure {_BAR_MM:g} mm."
    )
    place = f"Page {number + 1} of {tiling.pages}"
    if tiling.pages > 1:
        place += f": row {row + 1} from the top, column {column + 1}; pages overlap by {_OVERLAP_MM:g} mm."
    canvas.drawString(_MARGIN_MM, top - 11.4, place)
    _draw_lines(canvas, bar(_MARGIN_MM, top - 14.5, length_mm=_BAR_MM))
    _draw_lines(canvas, bar(_MARGIN_MM - 6.0, _MARGIN_MM, length_mm=_BAR_MM, upright=True))
    _draw_map(canvas, tiling, number, right=_MARGIN_MM + tiling.inside_mm[0], top=top)


def _draw_map(canvas: Any, tiling: Tiling, number: int, *, right: float, top: float) -> None:
    """A small map of the pages with this one filled."""
    if tiling.pages == 1:
        return
    side = min(4.0, 10.0 / tiling.rows, 30.0 / tiling.columns)
    left = right - side * tiling.columns
    _pen(canvas, "reference")
    for n in range(tiling.pages):
        row, column = divmod(n, tiling.columns)
        canvas.setFillGray(0.6 if n == number else 1.0)
        canvas.rect(left + column * side, top - (row + 1) * side, side, side, stroke=1, fill=1)
