"""Name and job number cut into the underside, mirrored so that they read from below."""

import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, OpType
from numpy.typing import NDArray
from scipy import ndimage

from buckwright.errors import JobError
from buckwright.shape.underside.free_area import FreeArea, free_area

__all__ = ["Engraving", "engraving_tools", "lettering", "plan_engraving"]

type Placing = tuple[float, float, tuple[float, float], tuple[str, ...]]
"""Cap height, angle, centre and lines of one way to set the text."""

LEAST_CAP_MM, MOST_CAP_MM = 3.0, 10.0
"""Cap heights: bold letters 3 mm high have strokes of 0.6 mm, the least that a 0.4 mm nozzle shows."""
CAP_STEP_MM = 0.25
LINE_PITCH = 1.7
"""Line spacing in cap heights: leaves room for descenders and accents."""
MARGIN_MM = 1.0
BELOW_MM = 1.6
"""How far the tool starts below the platen; no other tool starts there."""
_FINE = 200.0
"""Size at which glyphs are flattened before they are scaled down, so that curves stay smooth."""


@dataclass(frozen=True, slots=True, eq=False)
class Engraving:
    """Lettering in place.

    Attributes
    ----------
    lines : the text as cut, after replacing what cannot be cut; empty when nothing was cut
    outline : what the letters cover on the underside, seen from above (so mirrored)
    cap_mm : height of a capital letter, 0 when nothing was cut
    angle_deg : turn of the lettering, 0 or 90
    centre_mm : middle of the lettering
    depth_mm : how deep it is cut
    notes : plain words
    """

    lines: tuple[str, ...]
    outline: CrossSection
    cap_mm: float
    angle_deg: float
    centre_mm: tuple[float, float]
    depth_mm: float
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes without the outline
        """
        return {
            "lines": list(self.lines),
            "cap_mm": self.cap_mm,
            "angle_deg": self.angle_deg,
            "centre_mm": [round(value, 3) for value in self.centre_mm],
            "depth_mm": self.depth_mm,
            "notes": list(self.notes),
        }


def plan_engraving(
    name: str,
    underside: CrossSection,
    *,
    job_number: str = "",
    keep_out: CrossSection | None = None,
    depth_mm: float = 0.6,
    wall_mm: float = 1.0,
    pixel_mm: float = 0.5,
) -> Engraving:
    """Fit the lettering as large as possible (3 to 10 mm) on free ground of the underside.

    Parameters
    ----------
    name, job_number : str
        Any script that the typeface (DejaVu Sans Bold) holds; other characters become '?'.
    underside : CrossSection, mm
    keep_out : CrossSection, mm, optional
        Channels, bores and fixings; the letters stay `wall_mm` clear of them and of the edge.
    depth_mm : float, 0.1..5
        0.6 mm is three layers of 0.2 mm: common practice, no source.
    wall_mm, pixel_mm : float

    Returns
    -------
    Engraving : without lines and outline where there is no text or no room for it

    Raises
    ------
    JobError
        A size out of range.

    Notes
    -----
    Every wrapping of the name into one to four lines is tried, along x and along y; the largest capital
    height wins, and the box goes where most free ground surrounds it.
    """
    if not 0.1 <= depth_mm <= 5 or not 0 <= wall_mm <= 50:
        raise JobError(
            f"engraving needs a depth of 0.1..5 mm and a wall of 0..50 mm, got {depth_mm:g}, {wall_mm:g}"
        )
    clean, replaced = _clean(name)
    number, replaced_too = _clean(job_number)
    notes = ["characters that the typeface lacks are engraved as '?'"] if replaced or replaced_too else []
    nothing = Engraving((), CrossSection(), 0.0, 0.0, (0.0, 0.0), depth_mm, tuple(notes))
    if not clean and not number:
        return nothing
    barred = None if keep_out is None or keep_out.is_empty() else keep_out
    ground = free_area(underside, keep_out=barred, pixel_mm=pixel_mm)
    free = FreeArea(ground.origin, pixel_mm, ground.clearance_mm() > wall_mm)
    best: Placing | None = None
    for lines in _wrappings(clean, number):
        best = _larger(best, lines, free)
    if best is None:
        words = "there is no room for lettering on the underside: nothing is engraved"
        return Engraving((), CrossSection(), 0.0, 0.0, (0.0, 0.0), depth_mm, (*notes, words))
    cap, angle, centre, lines = best
    outline = lettering(lines, cap_mm=cap).mirror((1.0, 0.0)).rotate(angle).translate(centre)
    return Engraving(lines, outline, cap, angle, centre, depth_mm, tuple(notes))


def engraving_tools(engraving: Engraving) -> list[Manifold]:
    """The lettering as one tool to subtract, or none.

    Parameters
    ----------
    engraving : from `plan_engraving`

    Returns
    -------
    list of Manifold : one or none, mm
    """
    if engraving.outline.is_empty():
        return []
    return [engraving.outline.extrude(engraving.depth_mm + BELOW_MM).translate((0.0, 0.0, -BELOW_MM))]


def lettering(lines: Sequence[str], *, cap_mm: float) -> CrossSection:
    """Outline of centred lines of text, readable from above, its box centred on the origin.

    Parameters
    ----------
    lines : text, top line first
    cap_mm : height of a capital H, > 0

    Returns
    -------
    CrossSection : mm; empty where no line has a visible character
    """
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    face = FontProperties(family="DejaVu Sans", weight="bold")
    high = TextPath((0, 0), "H", size=_FINE, prop=face).get_extents().height
    scale = cap_mm / high
    rows = []
    for i, line in enumerate(lines):
        # A dollar sign would start a formula.
        path = TextPath((0, 0), line.replace("$", r"\$"), size=_FINE, prop=face)
        polygons = [np.asarray(polygon, np.float64) for polygon in path.to_polygons()]
        glyphs = [polygon for polygon in polygons if len(polygon) > 3]
        if not glyphs:
            continue
        row = CrossSection(glyphs, FillRule.NonZero).scale((scale, scale)).simplify(0.004 * cap_mm)
        x0, _, x1, _ = row.bounds()
        rows.append(row.translate((-(x0 + x1) / 2, -i * LINE_PITCH * cap_mm)))
    if not rows:
        return CrossSection()
    block = CrossSection.batch_boolean(rows, OpType.Add)
    x0, y0, x1, y1 = block.bounds()
    return block.translate((-(x0 + x1) / 2, -(y0 + y1) / 2))


def _clean(text: str) -> tuple[str, bool]:
    """Replace what cannot be cut and collapse blanks; tell whether anything was replaced."""
    from matplotlib.font_manager import FontProperties, findfont, get_font

    known = get_font(findfont(FontProperties(family="DejaVu Sans", weight="bold"))).get_charmap()
    plain = " ".join(unicodedata.normalize("NFC", text).split())
    kept = "".join(c if ord(c) in known and unicodedata.category(c)[0] != "C" else "?" for c in plain)
    return kept, kept != plain


def _wrappings(name: str, number: str) -> Iterator[tuple[str, ...]]:
    """Line breaks worth trying: all on one line, then the name over one to four lines."""
    if name and number:
        yield (f"{name}  {number}",)
    last = (number,) if number else ()
    seen: set[tuple[str, ...]] = set()
    for count in range(1, 5):
        width = max(1, int(np.ceil(len(name) / count)))
        for slack in (0, 2, 5):
            lines = tuple(textwrap.wrap(name, width + slack)) + last
            if 0 < len(lines) <= 6 and lines not in seen:
                seen.add(lines)
                yield lines


def _larger(
    best: Placing | None,
    lines: tuple[str, ...],
    free: FreeArea,
) -> Placing | None:
    """Improve on the best placing so far, if these lines can be cut larger."""
    unit = lettering(lines, cap_mm=1.0)
    if unit.is_empty():
        return best
    x0, y0, x1, y1 = unit.bounds()
    least = LEAST_CAP_MM if best is None else best[0] + CAP_STEP_MM
    for cap in np.arange(MOST_CAP_MM, least - 1e-9, -CAP_STEP_MM):
        for angle in (0.0, 90.0):
            size = (cap * (x1 - x0) + 2 * MARGIN_MM, cap * (y1 - y0) + 2 * MARGIN_MM)
            centre = _place(free, size if angle == 0.0 else size[::-1])
            if centre is not None:
                return float(cap), angle, centre, lines
    return best


def _place(free: FreeArea, size: tuple[float, float]) -> tuple[float, float] | None:
    """Centre of a free box with the most room around, or None; by sums over the raster."""
    wide, high = (int(np.ceil(side / free.pixel_mm)) + 1 for side in size)
    rows, columns = free.free.shape
    if wide > columns or high > rows:
        return None
    total: NDArray[np.int64] = np.zeros((rows + 1, columns + 1), np.int64)
    total[1:, 1:] = np.cumsum(np.cumsum(free.free, axis=0, dtype=np.int64), axis=1)
    inside = total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    fits = inside == wide * high
    if not fits.any():
        return None
    room = ndimage.distance_transform_edt(np.pad(fits, 1))[1:-1, 1:-1]
    row, column = np.unravel_index(int(room.argmax()), room.shape)
    x = free.origin[0] + (column + wide / 2) * free.pixel_mm
    y = free.origin[1] + (row + high / 2) * free.pixel_mm
    return float(x), float(y)
