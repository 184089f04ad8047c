"""The body that the part goes over: an object of the user's, picked in the settings; never changed."""

from collections.abc import Sequence

import bpy

from . import settings, snapshot, visibility
from .snapshot import Snapshot

__all__ = ["picked", "stamp", "take"]


def picked(scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The object that is picked as the body, while it is in the scene."""
    one: bpy.types.Object | None = settings.of(scene).body_object
    return one if one is not None and one.name in scene.objects else None


def take(context: bpy.types.Context) -> Snapshot | None:
    """The body as it is now, also where it is hidden; None where none is picked.

    Raises
    ------
    Refused
        It cannot be read, in words.
    """
    assert context.scene is not None
    one = picked(context.scene)
    if one is None:
        return None
    if one.mode != "OBJECT":
        raise snapshot.Refused(f"The body '{one.name}' is being edited: go to Object Mode first")
    with visibility.in_view(one):
        return snapshot.take(context, [one])


def stamp(context: bpy.types.Context, sculpts: Sequence[bpy.types.Object]) -> tuple[str, frozenset[int]]:
    """As `snapshot.stamp`, of the sculpts and of the body that is picked."""
    assert context.scene is not None
    one = picked(context.scene)
    if one is None:
        return snapshot.stamp(context, sculpts)
    with visibility.in_view(one):
        return snapshot.stamp(context, [*sculpts, one])
