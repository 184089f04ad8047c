"""Which of the two is seen: the sculpt, or the buck that stands in its place.

Both share surfaces, which flicker where both are drawn. The sculpt is therefore put aside while the buck is
shown: hidden by the eye of the view layer, which is no property of the object, is saved with the file and
follows undo.
"""

from collections.abc import Iterator
from contextlib import contextmanager

import bpy

from . import results

__all__ = [
    "MARKS",
    "bring_back",
    "buck_is_seen",
    "in_view",
    "is_aside",
    "pieces_are_seen",
    "show_buck",
    "show_pieces",
    "show_sculpt",
    "shown",
]

MARKS = ("VENT", "FOOT_VENT", "BLOCK", "TRIM", "OUTLINE")
"""Roles of what is drawn on the buck."""


def buck_is_seen(scene: bpy.types.Scene) -> bool:
    """Whether a buck of the scene is not hidden."""
    return any(not one.hide_get() for one in results.objects(scene, "BUCK"))


def pieces_are_seen(scene: bpy.types.Scene) -> bool:
    """Whether a piece of the buck is not hidden."""
    return any(not one.hide_get() for one in results.objects(scene, "PIECE"))


def is_aside(scene: bpy.types.Scene, one: bpy.types.Object) -> bool:
    """Whether an object is a sculpt that was put aside for its buck, and is still hidden."""
    return one.hide_get() and any(entry.aside and entry.object == one for entry in results.of(scene).sculpts)


def show_buck(scene: bpy.types.Scene) -> None:
    """Show the buck with its marks; the sculpt, which is in the same place, is put aside."""
    _hide_buck(scene, hidden=False)
    for entry in results.of(scene).sculpts:
        if _in_layer(entry.object) and not entry.object.hide_get():
            entry.object.hide_set(True)
            entry.aside = True


def show_pieces(scene: bpy.types.Scene) -> None:
    """Show the pieces in place of the buck that they make up."""
    show_buck(scene)
    _hide_buck(scene, hidden=True)
    _hide(scene, ("PIECE", "CUT"), hidden=False)


def show_sculpt(scene: bpy.types.Scene) -> None:
    """Show the sculpt and hide the buck with its marks; the sculpt is selected where nothing else is."""
    _hide_buck(scene, hidden=True)
    back, layer = bring_back(scene), bpy.context.view_layer
    if back and layer is not None and not layer.objects.selected:
        for one in back:
            one.select_set(True)
        layer.objects.active = back[0]


@contextmanager
def shown(scene: bpy.types.Scene) -> Iterator[None]:
    """Within it, sculpts that are aside are in view, so that Blender works their shape out."""
    aside = bring_back(scene)
    try:
        yield
    finally:
        for entry in results.of(scene).sculpts:
            if entry.object in aside:
                entry.object.hide_set(True)
                entry.aside = True


@contextmanager
def in_view(one: bpy.types.Object) -> Iterator[None]:
    """Within it, an object that is hidden by its eye is in view."""
    hidden = _in_layer(one) and one.hide_get()
    if hidden:
        one.hide_set(False)
    try:
        yield
    finally:
        if hidden:
            one.hide_set(True)


def bring_back(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """Show the sculpts that are aside; which they are."""
    back = []
    for entry in results.of(scene).sculpts:
        if entry.aside and _in_layer(entry.object) and entry.object.hide_get():
            entry.object.hide_set(False)
            back.append(entry.object)
        entry.aside = False
    return back


def _hide_buck(scene: bpy.types.Scene, *, hidden: bool) -> None:
    _hide(scene, ("BUCK", *MARKS), hidden=hidden)
    _hide(scene, ("PIECE", "CUT"), hidden=True)


def _hide(scene: bpy.types.Scene, roles: tuple[str, ...], *, hidden: bool) -> None:
    for role in roles:
        for one in results.objects(scene, role):
            if _in_layer(one):
                one.hide_set(hidden)


def _in_layer(one: bpy.types.Object | None) -> bool:
    """Only what is in the view layer has an eye."""
    layer = bpy.context.view_layer
    return one is not None and layer is not None and one.name in layer.objects
