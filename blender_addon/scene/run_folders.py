"""The folder of a run, in Blender's temporary one; those that a Blender left which crashed are swept."""

import os
import shutil
import tempfile
from pathlib import Path

import bpy

from ..bridge.library import alive

__all__ = ["make", "sweep"]

_NAME = "buckwright-"


def make() -> Path:
    """A new folder that tells whose it is.

    Raises
    ------
    OSError
        It cannot be made.
    """
    return Path(tempfile.mkdtemp(prefix=f"{_NAME}{os.getpid()}-", dir=bpy.app.tempdir))


def sweep() -> None:
    """Take the folders of processes away that are gone; those of other users stay."""
    for folder in Path(bpy.app.tempdir).parent.glob(f"*/{_NAME}*-*"):
        owner = folder.name.removeprefix(_NAME).partition("-")[0]
        if owner.isdecimal() and not alive(int(owner)):
            shutil.rmtree(folder, ignore_errors=True)
