"""Makes the sculpts of the first ten minutes: meshes of the sample scenes, as three users would have them."""

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

SAMPLES = Path(__file__).resolve().parents[2] / "sample_scenes"
HEAD_HIGH = 34.0
"""Height of the head in its file, whose unit nobody knows."""

type Array = NDArray[np.float64]


def make(folder: Path) -> None:
    """Write mask.stl, head.obj and relief.ply into a folder; what is there is left."""
    folder.mkdir(parents=True, exist_ok=True)
    sys.path.insert(0, str(SAMPLES))
    from sculpting.files import write

    for name, sculpt in _SCULPTS.items():
        if not (folder / name).is_file():
            vertices, faces = sculpt()
            write(folder / name, vertices, faces, unit_mm=1.0)


def _mask() -> tuple[Array, NDArray[np.int32]]:
    """The heron half-mask in millimetres, about 200 thousand faces."""
    from sculpts import heron_mask

    return heron_mask.sculpt(1.06)


def _head() -> tuple[Array, NDArray[np.int32]]:
    """The faun, 34 units high and standing along Y, as programs for sculpting write it."""
    from sculpts import antler_bust

    vertices, faces = antler_bust.sculpt(4.0)
    scaled = vertices * (HEAD_HIGH / np.ptp(vertices[:, 2]))
    return np.stack([scaled[:, 0], scaled[:, 2], -scaled[:, 1]], 1), faces


def _relief() -> tuple[Array, NDArray[np.int32]]:
    """The river's valley: one surface, open below."""
    from sculpts import river_terrain

    return river_terrain.sculpt(2.0)


_SCULPTS: dict[str, Callable[[], tuple[Array, NDArray[np.int32]]]] = {
    "mask.stl": _mask,
    "head.obj": _head,
    "relief.ply": _relief,
}
