"""When operators can be pressed: bases that several of them share. Each says why not in the tooltip."""

import bpy

from ..scene import results

__all__ = ["NeedsResults", "NeedsSheet"]


def _told(cls: type, holds: bool, words: str) -> bool:
    if not holds:
        cls.poll_message_set(words)  # type: ignore[attr-defined]
    return holds


class NeedsResults:
    """For operators that change what is in the scene as a result; `first` says what to do before."""

    first = "Look at the sculpt first"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with a collection of results."""
        scene = context.scene
        return _told(cls, scene is not None and results.of(scene).collection is not None, cls.first)


class NeedsSheet:
    """For operators of the forecast sheet."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with a forecast sheet."""
        scene = context.scene
        return _told(
            cls, scene is not None and bool(results.objects(scene, "SHEET")), "Forecast the sheet first"
        )
