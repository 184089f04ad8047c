"""What a scene keeps of its last run: facts, findings, trapped regions, objects."""

import json
from typing import Any

import bpy
import numpy as np
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)
from numpy.typing import NDArray

from ..bridge.library import COMMANDS, SEVERITIES, color_maps
from . import staleness
from .events import Event

__all__ = [
    "FACE_VALUES",
    "PREFIX",
    "facts",
    "frame",
    "inspection",
    "is_stale",
    "objects",
    "of",
    "pull",
    "region_chosen",
    "register",
    "sculpts",
    "spot_chosen",
    "unregister",
]

region_chosen: Event[[bpy.types.Context]] = Event()
"""A trapped region was chosen in the list."""
spot_chosen: Event[[bpy.types.Context]] = Event()
"""A place of the forecast sheet was chosen in the list."""

PREFIX = "buckwright_"
FACE_VALUES = (*color_maps(), "sideways_mm", "region")
"""Arrays of the library that the inspection mesh carries, a value per face, under PREFIX + name."""

_MEANINGS = {
    "stop": "Cannot work as it stands",
    "warn": "Works with a risk",
    "note": "Good to know",
}
_SEVERITIES = tuple((one.upper(), one.title(), _MEANINGS[one]) for one in SEVERITIES)
VERDICTS = (
    ("LOCKED", "Locked", "The part cannot be flexed off here"),
    ("FLEXES", "Flexes Off", "The part can be flexed off here"),
    ("COMES", "Releases", "The part releases freely here"),
)
SPOTS = (
    ("THINNEST", "Thinnest", "The thinnest place of the sheet on the buck"),
    ("WEB", "Web", "The sheet forms a web here"),
    ("POCKET", "Pocket", "The sheet traps air here"),
)
_MADE = (
    ("NONE", "Nothing", "Nothing yet"),
    *(
        (one.name.upper(), one.name.title(), one.title.rstrip("."))
        for one in COMMANDS.values()
        if not one.given
    ),
)


class BuckwrightFinding(bpy.types.PropertyGroup):
    """One thing found, in plain words; its place is in the world, in Blender units."""

    slug: StringProperty(name="Kind")  # type: ignore[valid-type]
    severity: EnumProperty(items=_SEVERITIES, name="Severity")  # type: ignore[valid-type]
    words: StringProperty(name="Words")  # type: ignore[valid-type]
    advice: StringProperty(name="Advice")  # type: ignore[valid-type]
    setting: StringProperty(name="Setting")  # type: ignore[valid-type]
    has_place: BoolProperty(name="Has a Place")  # type: ignore[valid-type]
    place: FloatVectorProperty(name="Place", subtype="XYZ", size=3)  # type: ignore[valid-type]


class BuckwrightRegion(bpy.types.PropertyGroup):
    """One trapped region of the sculpt."""

    verdict: EnumProperty(items=VERDICTS, name="Verdict")  # type: ignore[valid-type]
    number: IntProperty(name="Number")  # type: ignore[valid-type]
    depth_mm: FloatProperty(name="Depth", subtype="DISTANCE_CAMERA")  # type: ignore[valid-type]
    sideways_mm: FloatProperty(name="Sideways", subtype="DISTANCE_CAMERA")  # type: ignore[valid-type]
    strain: FloatProperty(name="Strain")  # type: ignore[valid-type]
    area_mm2: FloatProperty(name="Area")  # type: ignore[valid-type]
    centre: FloatVectorProperty(name="Centre", subtype="XYZ", size=3)  # type: ignore[valid-type]


class BuckwrightSpot(bpy.types.PropertyGroup):
    """A place of the forecast sheet that is worth a look."""

    kind: EnumProperty(items=SPOTS, name="Kind")  # type: ignore[valid-type]
    words: StringProperty(name="Words")  # type: ignore[valid-type]
    more: StringProperty(name="More")  # type: ignore[valid-type]
    centre: FloatVectorProperty(name="Centre", subtype="XYZ", size=3)  # type: ignore[valid-type]
    size: FloatProperty(name="Size")  # type: ignore[valid-type]
    object: PointerProperty(type=bpy.types.Object, name="Marker")  # type: ignore[valid-type]


class BuckwrightSetup(bpy.types.PropertyGroup):
    """One way to set the sculpt up, among those that a search offers."""

    number: IntProperty(name="Number")  # type: ignore[valid-type]
    words: StringProperty(name="Words")  # type: ignore[valid-type]
    more: StringProperty(name="More")  # type: ignore[valid-type]
    picture: PointerProperty(type=bpy.types.Image, name="Picture")  # type: ignore[valid-type]


class BuckwrightSculpt(bpy.types.PropertyGroup):
    """One object that is part of the sculpt."""

    object: PointerProperty(type=bpy.types.Object, name="Object")  # type: ignore[valid-type]
    aside: BoolProperty(name="Aside")  # type: ignore[valid-type]  # see visibility.py


def _choose_region(kept: Any, context: bpy.types.Context) -> None:
    if 0 <= kept.region_index < len(kept.regions):
        region_chosen.tell(context)


def _choose_spot(kept: Any, context: bpy.types.Context) -> None:
    if 0 <= kept.spot_index < len(kept.spots):
        spot_chosen.tell(context)


class BuckwrightResults(bpy.types.PropertyGroup):
    """What a scene keeps of its last look or make."""

    made: EnumProperty(name="Made", items=_MADE)  # type: ignore[valid-type]
    releases: BoolProperty(name="Releases")  # type: ignore[valid-type]
    sculpts: CollectionProperty(type=BuckwrightSculpt)  # type: ignore[valid-type]
    collection: PointerProperty(type=bpy.types.Collection, name="Results")  # type: ignore[valid-type]
    fingerprint: StringProperty()  # type: ignore[valid-type]
    job: StringProperty()  # type: ignore[valid-type]
    frame: StringProperty()  # type: ignore[valid-type]
    home: StringProperty()  # type: ignore[valid-type]
    facts: StringProperty()  # type: ignore[valid-type]
    findings: CollectionProperty(type=BuckwrightFinding)  # type: ignore[valid-type]
    setups: CollectionProperty(type=BuckwrightSetup)  # type: ignore[valid-type]
    regions: CollectionProperty(type=BuckwrightRegion)  # type: ignore[valid-type]
    region_index: IntProperty(name="Trapped Region", update=_choose_region)  # type: ignore[valid-type]
    spots: CollectionProperty(type=BuckwrightSpot)  # type: ignore[valid-type]
    places: PointerProperty(type=bpy.types.Collection, name="Places")  # type: ignore[valid-type]
    spot_index: IntProperty(name="Place", update=_choose_spot)  # type: ignore[valid-type]
    sheet: StringProperty(name="Sheet")  # type: ignore[valid-type]


_CLASSES = (
    BuckwrightFinding,
    BuckwrightRegion,
    BuckwrightSpot,
    BuckwrightSetup,
    BuckwrightSculpt,
    BuckwrightResults,
)


def of(scene: bpy.types.Scene) -> Any:
    """The results of a scene."""
    return scene.buckwright_results  # type: ignore[attr-defined]


def sculpts(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The objects of the last look or make that are still there."""
    return [entry.object for entry in of(scene).sculpts if entry.object is not None]


def objects(scene: bpy.types.Scene, role: str) -> list[bpy.types.Object]:
    """Result objects of a role, in the order of their names."""
    collection = of(scene).collection
    if collection is None:
        return []
    found = [one for one in collection.all_objects if one.buckwright.role == role]  # type: ignore[attr-defined]
    return sorted(found, key=lambda one: one.name)


def inspection(scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The copy of the sculpt that carries what was found, or None before the first look."""
    return next(iter(objects(scene, "INSPECTION")), None)


def frame(scene: bpy.types.Scene) -> NDArray[np.float64] | None:
    """(4, 4) matrix from the sculpt's coordinates in mm to the frame of the buck, or None."""
    text = of(scene).frame
    return np.array(json.loads(text)) if text else None


def pull(scene: bpy.types.Scene) -> NDArray[np.float64] | None:
    """(3,) unit vector of the pull that the results belong to, in world axes, or None."""
    found = facts(scene).get("pull")
    return None if found is None else np.array(found, np.float64) / np.linalg.norm(found)


def facts(scene: bpy.types.Scene) -> dict[str, Any]:
    """Figures of the last result: `wanted_deg`, `vents` (markers), `lines`, `automatic`, `times_s`."""
    return dict(json.loads(of(scene).facts or "{}"))


def is_stale(scene: bpy.types.Scene) -> str:
    """Why the results no longer belong to what is in the scene, in words; empty while they do."""
    kept = of(scene)
    if kept.made == "NONE":
        return ""
    if len(sculpts(scene)) < len(kept.sculpts):
        return "The sculpt has been deleted"
    return "The sculpt or a setting has changed" if staleness.is_touched(scene) else ""


def register() -> None:
    """Hang the results on scenes."""
    for group in _CLASSES:
        bpy.utils.register_class(group)
    bpy.types.Scene.buckwright_results = PointerProperty(type=BuckwrightResults)  # type: ignore[attr-defined]


def unregister() -> None:
    """Take them away."""
    del bpy.types.Scene.buckwright_results  # type: ignore[attr-defined]
    for group in reversed(_CLASSES):
        bpy.utils.unregister_class(group)
