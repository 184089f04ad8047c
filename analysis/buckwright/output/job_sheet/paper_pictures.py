"""Pictures for paper: cut to what is drawn, in grey, so that it is as large as the paper allows."""

import io

import numpy as np
from PIL import Image, UnidentifiedImageError

from buckwright.output.canvas.page import HEIGHT, ROOM, WIDTH

__all__ = ["drawn_part"]

_EDGE = 6  # pixels left round what is drawn
_PLAIN = 3  # steps of grey that are not told from the ground


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
