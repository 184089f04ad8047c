"""Keeps a job sheet within its weight: a lighter 3-D view first, then smaller pictures."""

import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from PIL import Image

from buckwright.output.job_sheet.solid_view.scene import MOST_FACES, SolidScene, lighter_scene

__all__ = ["MOST_BYTES", "Fitted", "fitted"]

MOST_BYTES = 8_000_000
"""What a page that is sent around may weigh."""

_FEWEST_FACES = 3_000
_SCALES = (1.0, 0.5, 0.25)

type Pictures = Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Fitted:
    """A page within its weight.

    Attributes
    ----------
    data : the page
    triangles, of : how many the 3-D view shows, and of how many; both 0 without one
    scale : of the pictures' width
    """

    data: bytes
    triangles: int
    of: int
    scale: float

    def to_dict(self) -> dict[str, Any]:
        """The entry of the report.

        Returns
        -------
        dict : bytes of the page, triangles shown and of how many, scale of the pictures
        """
        return {
            "bytes": len(self.data),
            "triangles": self.triangles,
            "of_triangles": self.of,
            "pictures_scale": self.scale,
        }


def fitted(
    page: Callable[[Pictures, SolidScene | None, str], bytes],
    pictures: Pictures,
    scene: SolidScene | None,
    *,
    of: int | None = None,
    most_bytes: int = MOST_BYTES,
) -> Fitted:
    """Make a page that weighs no more than is allowed.

    Parameters
    ----------
    page : (pictures, scene, a sentence that says what was made lighter) -> the page
    pictures : PNG by file name
    scene : what can be turned; None for pictures alone
    of : of how many triangles it is; None where it is whole
    most_bytes : what it may weigh

    Returns
    -------
    Fitted : without 3-D view and pictures where nothing else fits
    """
    whole, shown = of or 0, scene
    if scene is not None and of is None:
        whole = scene.triangles
    for faces, scale in _steps():
        shown = None if shown is None else lighter_scene(shown, most=faces)
        count = 0 if shown is None else shown.triangles
        smaller = pictures
        if scale < 1.0:
            smaller = {name: _scaled(data, scale) for name, data in pictures.items()}
        data = page(smaller, shown, _told(count, whole, scale))
        if len(data) <= most_bytes:
            return Fitted(data, count, whole, scale)
    words = f"3-D view and pictures are left out: the page would weigh more than {most_bytes / 1e6:g} MB."
    return Fitted(page({}, None, words), 0, whole, 0.0)


def _steps() -> Iterator[tuple[int, float]]:
    """Triangles for each body and scale of the pictures, ever lighter."""
    faces = MOST_FACES
    while faces > _FEWEST_FACES:
        yield faces, 1.0
        faces //= 2
    for scale in _SCALES:
        yield _FEWEST_FACES, scale


def _told(count: int, whole: int, scale: float) -> str:
    words = ""
    if count < whole:
        words = f"The 3-D view is drawn with {count:,} of {whole:,} triangles to keep this page light. "
    if scale < 1.0:
        words += f"The pictures are drawn at {scale:.0%} of their width. "
    return f"{words}The files beside it hold everything." if words else ""


def _scaled(data: bytes, scale: float) -> bytes:
    with Image.open(io.BytesIO(data)) as picture:
        size = tuple(max(round(side * scale), 1) for side in picture.size)
        small = picture.convert("RGB").resize((size[0], size[1]), Image.Resampling.LANCZOS)
    file = io.BytesIO()
    small.save(file, "png", optimize=True)
    return file.getvalue()
