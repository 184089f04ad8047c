"""Reading the picture that is wanted on the part."""

import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.mesh.bounds import shown

__all__ = ["load_picture"]


def load_picture(path: Path) -> NDArray[np.uint8]:
    """Read a PNG, JPEG or any other picture of pixels.

    Parameters
    ----------
    path : its file

    Returns
    -------
    (h, w, 4) uint8 : red, green, blue, opacity; the way up that its camera noted

    Raises
    ------
    InputError
        It is missing, no picture, or larger than can be read safely.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(path) as opened:
                upright = ImageOps.exif_transpose(opened) or opened
                return np.ascontiguousarray(np.asarray(upright.convert("RGBA"), np.uint8))
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        raise InputError(f"the picture {shown(path)} has too many pixels; make it smaller") from error
    except UnidentifiedImageError as error:
        raise InputError(f"{shown(path)} is no picture that can be read; use PNG or JPEG") from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"the picture {shown(path)} cannot be read: {reason}") from error
