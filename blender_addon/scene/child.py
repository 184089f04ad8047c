"""How the child process is started: interpreter, environment, folders as it is told of them."""

import sys
from pathlib import Path

import bpy

from .files import user_folder

__all__ = ["child_environment", "child_python", "for_child"]


def child_python() -> list[str]:
    """Blender's own interpreter with the options that Blender gives it."""
    return [sys.executable, *bpy.app.python_args]


def child_environment() -> dict[str, str]:
    """Where compiled loops are kept: beside the sources nothing may be written."""
    folder = for_child(user_folder("compiled", create=True))
    return {"NUMBA_CACHE_DIR": folder} if folder else {}


def for_child(folder: Path | None) -> str | None:
    """A folder as the child is told of it."""
    return None if folder is None else str(folder)
