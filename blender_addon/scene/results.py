"""What a scene keeps of its last run: facts, findings, trapped regions, objects.

Which objects are results is kept here, as pointers: a property of the objects themselves would be inherited
by every copy that the user makes of them, and a copy is the user's own.
"""

import json
from typing import Any

import bpy
import numpy as np
from bpy.app.handlers import persistent
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
from .events import Event

__all__ = [
    "FACE_VALUES",
    "PREFIX",
    "claim",
    "disclaim",
    "facts",
    "frame",
    "inspection",
    "let_go",
    "objects",
    "of",
    "owned",
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
    ("WEAKEST", "Weakest", "Where the sheet on the buck is thinnest, as a mean over a disc of 10 mm"),
    ("WEB", "Web", "The sheet forms a web here"),
    ("POCKET", "Pocket", "The sheet traps air here"),
)
# A file keeps the place of a role in this list: new ones come last.
ROLES = (
    ("BUCK", "Buck", "The buck itself"),
    ("VENT", "Vent", "Marks where a vent is drilled"),
    ("FOOT_VENT", "Foot Vent", "Marks a vent of the foot ring, which is placed automatically"),
    ("TRIM", "Trim Line", "Where the formed part is cut"),
    ("OUTLINE", "Base Outline", "The outline of the base"),
    ("SHEET", "Formed Sheet", "The sheet as it is forecast"),
    ("WEAKEST", "Weakest Spot", "Marks where the forecast sheet is thinnest"),
    ("WEB", "Web", "Marks where the forecast sheet forms a web"),
    ("POCKET", "Air Pocket", "Marks where the forecast sheet traps air"),
    ("INSPECTION", "Inspection", "A copy of the sculpt that carries the values of its faces"),
    ("COAT", "Sheet on Buck", "The surface that the sheet lies on, with what it is like there"),
    ("PIECE", "Piece", "A piece of the buck that is printed by itself"),
    ("PLATEN", "Platen", "The platen of the machine"),
    ("MACHINE", "Machine Opening", "The opening of the machine's own frame"),
    ("OPENING", "Frame Opening", "The opening that the sheet is formed through"),
    ("BLANK", "Sheet Blank", "The sheet that is cut for a pull"),
    ("FRAME", "Clamp Frame", "The frame that holds the sheet over a reducing set"),
    ("COPY", "Further Buck", "Another buck of the same pull"),
    ("PLANE", "Halving Plane", "The plane that halves the sculpt, across its Z axis"),
    ("CUT", "Split Plane", "A plane that splits the buck for the printer, across its Z axis"),
    ("BLOCK", "Take-Up Block", "Marks the top of a take-up block"),
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
    unfolded: BoolProperty(name="Show All", description="Show all that is said about it")  # type: ignore[valid-type]


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
    direction: FloatVectorProperty(name="Pull", size=3)  # type: ignore[valid-type]
    measured: BoolProperty(name="The result is set up like this")  # type: ignore[valid-type]
    words: StringProperty(name="Words")  # type: ignore[valid-type]
    more: StringProperty(name="More")  # type: ignore[valid-type]
    picture: PointerProperty(type=bpy.types.Image, name="Picture")  # type: ignore[valid-type]


class BuckwrightPlane(bpy.types.PropertyGroup):
    """One plane that halves the sculpt, among those that a search offers."""

    number: IntProperty(name="Number")  # type: ignore[valid-type]
    normal: FloatVectorProperty(name="Across", size=3)  # type: ignore[valid-type]
    offset_mm: FloatProperty(name="Offset")  # type: ignore[valid-type]
    words: StringProperty(name="Words")  # type: ignore[valid-type]
    more: StringProperty(name="More")  # type: ignore[valid-type]
    picture: PointerProperty(type=bpy.types.Image, name="Picture")  # type: ignore[valid-type]


class BuckwrightSculpt(bpy.types.PropertyGroup):
    """One object that is part of the sculpt."""

    object: PointerProperty(type=bpy.types.Object, name="Object")  # type: ignore[valid-type]
    aside: BoolProperty(name="Aside")  # type: ignore[valid-type]  # see visibility.py


class BuckwrightOwn(bpy.types.PropertyGroup):
    """One object that is a result."""

    object: PointerProperty(type=bpy.types.Object, name="Object")  # type: ignore[valid-type]
    role: EnumProperty(items=ROLES, name="Role")  # type: ignore[valid-type]


class BuckwrightOrigin(bpy.types.PropertyGroup):
    """What a result was made from: command, text of the job, stamps of the sculpt, marks on the buck."""

    command: StringProperty()  # type: ignore[valid-type]
    job: StringProperty()  # type: ignore[valid-type]
    stamp: StringProperty()  # type: ignore[valid-type]
    texture: StringProperty()  # type: ignore[valid-type]  # with its UV map; empty where that is not used
    vents: StringProperty()  # type: ignore[valid-type]
    blocks: StringProperty()  # type: ignore[valid-type]
    outline: StringProperty()  # type: ignore[valid-type]
    planes: StringProperty()  # type: ignore[valid-type]


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
    own: CollectionProperty(type=BuckwrightOwn)  # type: ignore[valid-type]
    collection: PointerProperty(type=bpy.types.Collection, name="Results")  # type: ignore[valid-type]
    fingerprint: StringProperty()  # type: ignore[valid-type]
    found_from: PointerProperty(type=BuckwrightOrigin)  # type: ignore[valid-type]
    buck_from: PointerProperty(type=BuckwrightOrigin)  # type: ignore[valid-type]
    sheet_from: PointerProperty(type=BuckwrightOrigin)  # type: ignore[valid-type]
    buck_shape: StringProperty()  # type: ignore[valid-type]  # see edited_buck.py
    frame: StringProperty()  # type: ignore[valid-type]
    turned: BoolProperty()  # type: ignore[valid-type]
    home: StringProperty()  # type: ignore[valid-type]
    facts: StringProperty()  # type: ignore[valid-type]
    findings: CollectionProperty(type=BuckwrightFinding)  # type: ignore[valid-type]
    setups: CollectionProperty(type=BuckwrightSetup)  # type: ignore[valid-type]
    planes: CollectionProperty(type=BuckwrightPlane)  # type: ignore[valid-type]
    halved: CollectionProperty(type=BuckwrightSculpt)  # type: ignore[valid-type]
    halved_box: StringProperty()  # type: ignore[valid-type]  # corners of what was halved, as JSON
    halved_size: StringProperty()  # type: ignore[valid-type]  # the size that was wanted of it, as JSON
    regions: CollectionProperty(type=BuckwrightRegion)  # type: ignore[valid-type]
    region_index: IntProperty(name="Trapped Region", update=_choose_region)  # type: ignore[valid-type]
    spots: CollectionProperty(type=BuckwrightSpot)  # type: ignore[valid-type]
    vents: PointerProperty(type=bpy.types.Collection, name="Vents")  # type: ignore[valid-type]
    blocks: PointerProperty(type=bpy.types.Collection, name="Take-Up Blocks")  # type: ignore[valid-type]
    lines: PointerProperty(type=bpy.types.Collection, name="Lines")  # type: ignore[valid-type]
    places: PointerProperty(type=bpy.types.Collection, name="Places")  # type: ignore[valid-type]
    pieces: PointerProperty(type=bpy.types.Collection, name="Pieces")  # type: ignore[valid-type]
    workshop: PointerProperty(type=bpy.types.Collection, name="Workshop")  # type: ignore[valid-type]
    spot_index: IntProperty(name="Place", update=_choose_spot)  # type: ignore[valid-type]
    job_sheet: StringProperty(name="Job Sheet")  # type: ignore[valid-type]  # file that was opened last
    tuned: StringProperty()  # type: ignore[valid-type]  # the best of a search for better settings, as JSON
    log: StringProperty()  # type: ignore[valid-type]  # what the log of pulls says, as JSON
    sheet: StringProperty(name="Sheet")  # type: ignore[valid-type]
    sheet_mm: FloatProperty(name="Sheet Thickness")  # type: ignore[valid-type]  # before forming


_CLASSES = (
    BuckwrightFinding,
    BuckwrightRegion,
    BuckwrightSpot,
    BuckwrightSetup,
    BuckwrightPlane,
    BuckwrightSculpt,
    BuckwrightOwn,
    BuckwrightOrigin,
    BuckwrightResults,
)


def of(scene: bpy.types.Scene) -> Any:
    """The results of a scene."""
    return scene.buckwright_results  # type: ignore[attr-defined]


def sculpts(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The objects of the last look or make that are still there."""
    inside = _inside(scene)
    return [
        one for entry in of(scene).sculpts if (one := entry.object) is not None and one.session_uid in inside
    ]


def objects(scene: bpy.types.Scene, role: str) -> list[bpy.types.Object]:
    """Result objects of a role that are in the scene, in the order of their names."""
    found = [one for entry in of(scene).own if entry.role == role and (one := entry.object) is not None]
    if not found:
        return []
    inside = _inside(scene)
    return sorted((one for one in found if one.session_uid in inside), key=lambda one: one.name)


def claim(scene: bpy.types.Scene, one: bpy.types.Object, role: str) -> None:
    """Make an object one of the results of a scene."""
    entry = of(scene).own.add()
    entry.object, entry.role = one, role


def disclaim(scene: bpy.types.Scene, one: bpy.types.Object) -> None:
    """Leave a result object to the user."""
    own = of(scene).own
    for index in reversed(range(len(own))):
        if own[index].object == one:
            own.remove(index)


def owned() -> frozenset[int]:
    """Session numbers of the objects that are results, of any scene."""
    return frozenset(
        entry.object.session_uid
        for scene in bpy.data.scenes
        for entry in of(scene).own
        if entry.object is not None
    )


def let_go(scene: bpy.types.Scene) -> None:
    """Hold no object any longer that the user has deleted: a pointer would keep it in the file."""
    kept, inside = of(scene), _inside(scene)
    for entry in (*kept.sculpts, *kept.halved, *kept.spots):
        if entry.object is not None and entry.object.session_uid not in inside:
            entry.object = None
    for index in reversed(range(len(kept.own))):
        one = kept.own[index].object
        if one is None or one.session_uid not in inside:
            kept.own.remove(index)


def _inside(scene: bpy.types.Scene) -> frozenset[int]:
    return frozenset(one.session_uid for one in scene.objects)


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
    """Figures of the last result, see `record`: `wanted_deg`, `vents` (markers), `lines`, `automatic`..."""
    return dict(json.loads(of(scene).facts or "{}"))


@persistent
def _saving(*_args: object) -> None:
    for scene in bpy.data.scenes:
        if scene.library is None:
            let_go(scene)


def register() -> None:
    """Hang the results on scenes."""
    for group in _CLASSES:
        bpy.utils.register_class(group)
    bpy.types.Scene.buckwright_results = PointerProperty(type=BuckwrightResults)  # type: ignore[attr-defined]
    bpy.app.handlers.save_pre.append(_saving)


def unregister() -> None:
    """Take them away."""
    bpy.app.handlers.save_pre.remove(_saving)
    del bpy.types.Scene.buckwright_results  # type: ignore[attr-defined]
    for group in reversed(_CLASSES):
        bpy.utils.unregister_class(group)
