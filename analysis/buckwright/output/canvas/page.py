"""The page that every picture is drawn on: title, room for the model, scale bar, a column of text."""

import math
import textwrap
from dataclasses import dataclass
from typing import IO, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patheffects import withStroke
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray

from buckwright.output.canvas.palette import INK, PAPER
from buckwright.output.canvas.views import SHARPNESS, Shot

__all__ = ["HALO", "HEIGHT", "ROOM", "WIDTH", "Column", "Page", "drawable", "shortened"]

WIDTH, HEIGHT = 1600, 1200
"""Units of the layout; pictures have `SHARPNESS` pixels for each."""

ROOM = (30, 100, 1090, 980)
"""Left, bottom, width and height of the room for the model, units from the lower left corner."""

HALO = [withStroke(linewidth=4, foreground=PAPER)]
"""White behind lines and letters, so that they can be read on any colour."""

_DPI = 100  # units of the layout in an inch, by which letters are measured
_ON_PAGE = Affine2D().scale(SHARPNESS)
_RUN_LENGTHS = 3  # `zlib.Z_RLE`: as small for pictures with wide plain areas, several times as fast
_COLUMN_LEFT, _COLUMN_TOP, _COLUMN_WIDTH, _COLUMN_FOOT = 1150, 1150, 430, 40
_COLUMN_LETTERS = 43
_TITLES = ((50, 22), (66, 17))  # most letters that fit beside the column, size in points
_LINE = 25


def drawable(words: str) -> str:
    """Replace letters that the font lacks by a box, so that a name in any script can be drawn.

    Parameters
    ----------
    words : any text

    Returns
    -------
    str : of the same length
    """
    known = get_font(findfont(FontProperties())).get_charmap()
    return "".join(letter if ord(letter) in known else "\u25a1" for letter in words)


def shortened(words: str, most: int) -> str:
    """Cut long text with an ellipsis.

    Parameters
    ----------
    words : any text
    most : letters allowed, >= 1

    Returns
    -------
    str : at most `most` letters

    Examples
    --------
    >>> shortened("a long name", 20), shortened("a long name", 7)
    ('a long name', 'a long…')
    """
    return words if len(words) <= most else words[: most - 1].rstrip() + "\u2026"


class Page:
    """One picture; everything is placed in units of its layout, 1600 x 1200, from the lower left corner.

    Parameters
    ----------
    title : one line, smaller from 50 letters, cut at 66; any script, nothing in it is taken as a formula
    subtitle : one line below
    """

    def __init__(self, title: str, subtitle: str) -> None:
        self.figure = Figure(figsize=(WIDTH / _DPI, HEIGHT / _DPI), dpi=_DPI * SHARPNESS, facecolor=PAPER)
        FigureCanvasAgg(self.figure)
        self.column = Column(self)
        most, size = next((fit for fit in _TITLES if len(title) <= fit[0]), _TITLES[-1])
        self.words(30, 1165, shortened(title, most), size=size, weight="bold", va="center")
        self.words(30, 1118, subtitle, size=14, va="center")

    def words(self, left: float, bottom: float, words: str, *, size: float = 12.5, **style: Any) -> None:
        """Words at a place on the page.

        Parameters
        ----------
        left, bottom : units of the layout
        words : plain text; letters that the font lacks become boxes
        size : of the letters, points
        **style : further settings of matplotlib's text
        """
        self.figure.text(
            left,
            bottom,
            drawable(words),
            fontsize=size,
            color=INK,
            parse_math=False,
            transform=_ON_PAGE,
            **style,
        )

    def image(self, left: float, bottom: float, pixels: NDArray[np.uint8]) -> None:
        """Pixels exactly as they are.

        Parameters
        ----------
        left, bottom : units of the layout
        pixels : (ny, nx, 3) uint8, row 0 at the bottom
        """
        at = round(left * SHARPNESS), round(bottom * SHARPNESS)
        self.figure.figimage(pixels, *at, origin="lower", zorder=-1)

    def stroke(self, x: Any, y: Any, **style: Any) -> None:
        """A line or markers on the page.

        Parameters
        ----------
        x, y : units of the layout
        **style : settings of matplotlib's lines
        """
        self.figure.add_artist(Line2D(x, y, transform=_ON_PAGE, **style))

    def show(self, shot: Shot, pixels: NDArray[np.uint8], *, room: tuple[int, int, int, int] = ROOM) -> Axes:
        """Put a shot in the middle of a room with its scale bar below.

        Parameters
        ----------
        shot : where the picture was taken
        pixels : (ny, nx, 3) uint8, row 0 at the bottom
        room : left, bottom, width and height, units of the layout

        Returns
        -------
        Axes : over the room, in mm of the view, for drawing marks
        """
        left, bottom, width, height = room
        rows, columns = pixels.shape[:2]
        # at whole pixels, so that marks lie exactly where they belong
        x = round((left + width / 2) * SHARPNESS - columns / 2) / SHARPNESS
        y = round((bottom + height / 2) * SHARPNESS - rows / 2) / SHARPNESS
        self.image(x, y, pixels)
        axes = self.figure.add_axes(
            (left / WIDTH, bottom / HEIGHT, width / WIDTH, height / HEIGHT), facecolor="none"
        )
        axes.set_axis_off()
        low = shot.low - np.array([x - left, y - bottom]) * shot.unit_mm
        axes.set_xlim(low[0], low[0] + width * shot.unit_mm)
        axes.set_ylim(low[1], low[1] + height * shot.unit_mm)
        axes.set_autoscale_on(False)
        self._scale_bar(left + 8, bottom - 44, shot.unit_mm, width)
        return axes

    def save(self, file: IO[bytes]) -> None:
        """Write as PNG; equal pictures give equal bytes.

        Parameters
        ----------
        file : open for writing bytes
        """
        self.figure.savefig(
            file,
            format="png",
            dpi=_DPI * SHARPNESS,
            metadata={"Software": None},
            pil_kwargs={"compress_level": 1, "compress_type": _RUN_LENGTHS},
        )

    def _scale_bar(self, left: float, bottom: float, unit_mm: float, width: float) -> None:
        """A bar of a round length, at most two fifths of the room, in five pieces."""
        length = _round_length(width * unit_mm * 0.4)
        x = np.linspace(left, left + length / unit_mm, 6)
        for piece in range(5):
            tint = INK if piece % 2 == 0 else "0.8"
            self.stroke(x[piece : piece + 2], [bottom] * 2, color=tint, linewidth=7, solid_capstyle="butt")
        rim = [bottom - 5, bottom - 5, bottom + 5, bottom + 5, bottom - 5]
        self.stroke([x[0], x[-1], x[-1], x[0], x[0]], rim, color=INK, linewidth=1)
        self.words(x[0], bottom + 12, "0", ha="center")
        self.words(x[-1], bottom + 12, f"{length:g} mm", ha="center")


@dataclass(slots=True)
class Column:
    """The text beside the picture, filled from the top."""

    plate: Page
    _top: float = _COLUMN_TOP

    @property
    def lines_left(self) -> int:
        """How many more lines fit."""
        return int((self._top - _COLUMN_FOOT) // _LINE)

    def gap(self, height: float = 16) -> None:
        """Leave some space.

        Parameters
        ----------
        height : units of the layout
        """
        self._top -= height

    def heading(self, words: str) -> None:
        """A bold line.

        Parameters
        ----------
        words : plain text, wrapped
        """
        self._write(words, indent=0, weight="bold")

    def line(self, words: str, *, lead: str = "") -> None:
        """Plain text, wrapped.

        Parameters
        ----------
        words : plain text
        lead : hangs in front of it in bold, a number for example
        """
        if lead:
            self.plate.words(_COLUMN_LEFT, self._top, lead, va="top", weight="bold")
        self._write(words, indent=32 if lead else 0)

    def swatch(self, pixels: NDArray[np.uint8], name: str, words: str) -> None:
        """A patch as it looks in the picture, its name (bold) and its meaning.

        Parameters
        ----------
        pixels : (ny, nx, 3) uint8
        name, words : plain text, wrapped
        """
        height, width = (count / SHARPNESS for count in pixels.shape[:2])
        left, bottom = _COLUMN_LEFT, int(self._top - height - 3)
        self.plate.image(left, bottom, pixels)
        x, y = left + width, bottom + height
        self.plate.stroke([left, x, x, left, left], [bottom, bottom, y, y, bottom], color=INK, linewidth=1)
        self._write(name, indent=width + 14, weight="bold")
        self._write(words, indent=width + 14)
        self.gap(7)

    def sample(self, words: str, *styles: dict[str, Any]) -> None:
        """A line or a marker as it looks in the picture, and its meaning.

        Parameters
        ----------
        words : plain text, wrapped
        *styles : settings of matplotlib's lines, from back to front
        """
        for style in styles:
            x = [_COLUMN_LEFT + 2, _COLUMN_LEFT + 54] if "linestyle" in style else [_COLUMN_LEFT + 28]
            self.plate.stroke(x, [self._top - 10] * len(x), **style)
        self._write(words, indent=70)
        self.gap(7)

    def _write(self, words: str, *, indent: float, weight: str = "normal") -> None:
        letters = max(int(_COLUMN_LETTERS * (1 - indent / _COLUMN_WIDTH)), 8)
        for part in textwrap.wrap(words, letters):
            self.plate.words(_COLUMN_LEFT + indent, self._top, part, va="top", weight=weight)
            self._top -= _LINE


def _round_length(most: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not longer than `most`."""
    power = 10.0 ** math.floor(math.log10(max(most, 1e-9)))
    return float(max(step * power for step in (1, 2, 5) if step * power <= most * (1 + 1e-9)))
