"""Whether a run has room for its files, told before it begins. This module must not import Blender."""

import shutil
from collections import defaultdict
from pathlib import Path

__all__ = ["why_not"]

# Bytes, and bytes for each face of the sculpt, measured on a smoothed monkey of 16 000 faces and doubled:
# sculpt and arrays of a run 3 MB; the store 80 MB, of which 6 grow with the faces; an export with pictures
# 10 MB.
_RUN = (20e6, 400.0)
_STORE = (150e6, 800.0)
_EXPORT = (20e6, 400.0)


def why_not(faces: int, *, run: Path, store: Path | None = None, out: Path | None = None) -> str:
    """Why there is no room for a run, in words with the way out; empty where there is.

    Parameters
    ----------
    faces : of the sculpt
    run, store, out : folders that the run writes to; they need not be there yet
    """
    wanted: dict[int, float] = defaultdict(float)
    places: dict[int, Path] = {}
    for folder, (least, each) in ((run, _RUN), (store, _STORE), (out, _EXPORT)):
        there = None if folder is None else _nearest(folder)
        if there is None:
            continue
        disk = there.stat().st_dev
        wanted[disk] += least + each * faces
        places.setdefault(disk, there)
    for disk, need in wanted.items():
        free = shutil.disk_usage(places[disk]).free
        if free < need:
            return (
                f"The disk of {places[disk]} is nearly full: {_words(free)} are free, "
                f"the run needs about {_words(need)}. Make room and try again"
            )
    return ""


def _nearest(folder: Path) -> Path | None:
    """The folder, or the nearest one above it that is there."""
    return next((one for one in (folder, *folder.parents) if one.is_dir()), None)


def _words(count: float) -> str:
    return f"{count / 1e9:.1f} GB" if count >= 1e9 else f"{count / 1e6:.0f} MB"
