"""Selects objects of a view layer, and nothing else."""

from collections.abc import Sequence

import bpy

__all__ = ["select_only"]


def select_only(layer: bpy.types.ViewLayer, chosen: Sequence[bpy.types.Object]) -> None:
    """Select objects alone, the first of them active; those that are not in the layer are left out."""
    for one in list(layer.objects.selected):
        one.select_set(False)
    there = [one for one in chosen if one.name in layer.objects]
    for one in there:
        one.select_set(True)
    if there:
        layer.objects.active = there[0]
