"""The files of an export: called after the job or its sculpt, and what stands in their place already."""

from pathlib import Path

import bpy

from . import edited_buck, results, settings, snapshot
from .files import UNFIT

__all__ = ["prefix", "title", "would_replace"]

_NAMES = frozenset({"buck.stl", "buck.3mf", "report.json", "look.ply"})


def title(context: bpy.types.Context) -> str:
    """What the files are called after: the name of the job, else that of the sculpt."""
    scene = context.scene
    assert scene is not None
    of_buck = results.sculpts(scene)
    found = (of_buck if edited_buck.is_edited(scene) else snapshot.chosen(context)) or of_buck
    named = settings.of(scene).job.name or (found[0].name if found else "Buck")
    return UNFIT.sub("_", named).strip(". ") or "Buck"


def prefix(context: bpy.types.Context) -> str:
    """What the names of the files begin with."""
    return f"{title(context)}_"


def would_replace(context: bpy.types.Context, folder: Path) -> list[str]:
    """Names of files in a folder that an export writes anew, in order."""
    first = prefix(context)
    if not folder.is_dir():
        return []
    names = [path.name for path in folder.iterdir() if path.name.startswith(first)]
    return sorted(one for one in names if one.endswith(".png") or one.removeprefix(first) in _NAMES)
