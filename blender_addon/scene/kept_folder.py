"""Folders of the extension's own for what is opened later: job sheets and searches."""

from pathlib import Path

import bpy

from .files import user_folder
from .snapshot import Refused

__all__ = ["kept_folder"]


def kept_folder(name: str) -> Path:
    """A folder to write into, which outlives an update.

    Raises
    ------
    Refused
        Nothing can be written there.
    """
    folder = user_folder(name, create=True)
    if folder is None:
        place = bpy.utils.user_resource("EXTENSIONS")
        raise Refused(f"Nothing can be written to {place}: make that folder writable, and try again")
    return folder
