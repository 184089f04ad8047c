"""Files that the extension writes: their names, their folder, whole or not at all."""

import os
import re
import tempfile
from pathlib import Path

import bpy

__all__ = ["EXTENSION", "UNFIT", "user_folder", "write_whole"]

UNFIT = re.compile(r'[\x00-\x1f<>:"/\\|?*]')
"""Letters that some file system does not take."""
EXTENSION = __package__.rpartition(".")[0]
"""The extension's own package; Blender knows no other of it."""


def user_folder(name: str, *, create: bool) -> Path | None:
    """A folder of the extension's own that outlives an update; None where nothing can be written."""
    try:
        found = bpy.utils.extension_path_user(EXTENSION, path=name, create=create)
    except OSError:
        return None
    return Path(found) if found else None


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    OSError
        It cannot be written.
    """
    descriptor, beside = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        with os.fdopen(descriptor, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        os.replace(beside, path)  # noqa: PTH105  (a pair with mkstemp)
    except BaseException:
        os.unlink(beside)  # noqa: PTH108
        raise
