"""The store, where results of runs are kept for the next ones: its place, its size, and how it is emptied."""

import contextlib
from pathlib import Path

import bpy

from .files import EXTENSION, user_folder

__all__ = ["clear", "place", "size_bytes"]

_RESULTS = "*-*.npz"
"""Names that the library gives to what it keeps; anything else in the folder is not the store's."""


def place(*, create: bool = False) -> Path | None:
    """Its folder: that of the preferences, else the extension's own; None where nothing can be written."""
    asked = _preference()
    if not asked:
        return user_folder("store", create=create)
    folder = Path(bpy.path.abspath(asked))
    if create:
        with contextlib.suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
    return folder if folder.is_dir() or not create else None


def size_bytes() -> int:
    """How much it holds."""
    total = 0
    for path in _kept():
        with contextlib.suppress(OSError):
            total += path.stat().st_size
    return total


def clear() -> int:
    """Delete what it holds; how many bytes that frees."""
    freed = 0
    for path in _kept():
        with contextlib.suppress(OSError):
            size = path.stat().st_size
            path.unlink()
            freed += size
    return freed


def _kept() -> list[Path]:
    folder = place()
    return [] if folder is None or not folder.is_dir() else sorted(folder.glob(_RESULTS))


def _preference() -> str:
    preferences = bpy.context.preferences
    addon = None if preferences is None else preferences.addons.get(EXTENSION)
    return str(getattr(addon.preferences, "store", "") or "") if addon is not None else ""
