"""Pictures on the job sheet; for paper cut to what is drawn, in grey, as large as the paper allows."""

import io
from collections.abc import Mapping
from typing import Any

import numpy as np
from PIL import Image, UnidentifiedImageError

from buckwright.output.canvas.page import HEIGHT, ROOM, WIDTH
from buckwright.output.job_sheet.markup import by_words, figure

__all__ = ["PICTURE_KEY", "drawn_part", "shown_pictures"]

PICTURE_KEY = (
    "In the pictures dots mark fill, rings and crosses vents, the dash-dotted line is the trim line; in a "
    "forecast dark is thin, the triangle the weakest spot, a black line a web, numbers places of trapped air."
)
"""What the legends say that paper leaves out."""

_PICTURES = (
    ("buck_slant.png", "The buck"),
    ("buck_front.png", "The buck from the front{wide_high}"),
    ("buck_top.png", "Down the pull, with the vents{wide_deep}"),
    ("forecast_front.png", "The formed part as forecast: thickness{thickness}"),
    ("group_forecast.png", "All bucks of the pull from above, as forecast: thickness and webs"),
    ("buck_underside.png", "The underside, with channels and fixings"),
)

_EDGE = 6  # pixels left round what is drawn
_PLAIN = 3  # steps of grey that are not told from the ground


def shown_pictures(pictures: Mapping[str, bytes], report: Mapping[str, Any]) -> str:
    """Figures of those pictures that the sheet shows.

    Parameters
    ----------
    pictures : PNG by file name
    report : plain values, as report.json holds them, for the words under them

    Returns
    -------
    str : HTML; empty without pictures
    """
    words = {"wide_high": "", "wide_deep": "", "thickness": ""}
    if buck := report.get("buck"):
        wide, deep, high = buck["size_mm"]
        words["wide_high"] = f": {by_words((wide, high))} mm high"
        words["wide_deep"] = f": {by_words((wide, deep))} mm"
    if spread := (report.get("forecast") or {}).get("thickness_percentiles_mm"):
        words["thickness"] = f", {spread['5']:.2f} to {spread['95']:.2f} mm on nine tenths of it"
    return "".join(
        figure(pictures[name], text.format(**words), printed=drawn_part(pictures[name]))
        for name, text in _PICTURES
        if name in pictures
    )


def drawn_part(png: bytes) -> bytes | None:
    """Cut a picture of the canvas to the model in its room; title, scale bar and legend go.

    Parameters
    ----------
    png : as `output/canvas` draws it

    Returns
    -------
    bytes or None : PNG in grey; None where nothing is drawn in that room or this is no picture
    """
    try:
        with Image.open(io.BytesIO(png)) as picture:
            grey = picture.convert("L")
    except UnidentifiedImageError:
        return None
    left, bottom, width, height = ROOM
    x, y = grey.width / WIDTH, grey.height / HEIGHT
    upper, lower = round((HEIGHT - bottom - height) * y), round((HEIGHT - bottom) * y)
    room = grey.crop((round(left * x), upper, round((left + width) * x), lower))
    drawn = np.abs(np.asarray(room, np.int16) - int(np.asarray(room)[0, 0])) > _PLAIN
    rows, columns = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    if not len(rows):
        return None
    part = room.crop(
        (
            max(int(columns[0]) - _EDGE, 0),
            max(int(rows[0]) - _EDGE, 0),
            min(int(columns[-1]) + _EDGE, room.width),
            min(int(rows[-1]) + _EDGE, room.height),
        )
    )
    file = io.BytesIO()
    part.save(file, "png", optimize=True)
    return file.getvalue()
