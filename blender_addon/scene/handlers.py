"""Blender's own events, followed together and left together."""

from collections.abc import Callable, Sequence
from typing import Any

import bpy

__all__ = ["Handlers", "ignore", "listen"]

type Handlers = Sequence[tuple[str, Callable[..., Any]]]
"""Names of lists in `bpy.app.handlers`, and what is called; persistent, to outlive the opening of a file."""


def listen(handlers: Handlers) -> None:
    """Have them called from now on."""
    for name, handler in handlers:
        getattr(bpy.app.handlers, name).append(handler)


def ignore(handlers: Handlers) -> None:
    """Have them called no longer, the last first."""
    for name, handler in reversed(handlers):
        getattr(bpy.app.handlers, name).remove(handler)
