"""News for the rooms above, which listen while the extension is registered.

This module must not import Blender.
"""

from collections.abc import Callable

__all__ = ["Event"]


class Event[**P]:
    """Something that happens here, and that others act on."""

    def __init__(self) -> None:
        self._listeners: list[Callable[P, object]] = []

    def listen(self, listener: Callable[P, object]) -> None:
        """Call a function each time, after those that listen already."""
        self._listeners.append(listener)

    def ignore(self, listener: Callable[P, object]) -> None:
        """Call it no longer."""
        self._listeners.remove(listener)

    def tell(self, *args: P.args, **kwargs: P.kwargs) -> None:
        """Call all that listen."""
        for listener in tuple(self._listeners):
            listener(*args, **kwargs)
