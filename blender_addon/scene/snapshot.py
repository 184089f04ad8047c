"""Takes the sculpt out of the scene: what is seen of the chosen objects, as triangles in world millimetres.

Nothing of the scene is changed: modifiers, instances, parents and scales are applied to the copy only.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.library import TEXTURE_ARRAYS
from ..bridge.units import mm_per_unit
from . import heat_painting, results, settings, visibility
from .files import UNFIT

__all__ = [
    "Refused",
    "Snapshot",
    "chosen",
    "mesh_digest",
    "multires_levels",
    "stamp",
    "take",
    "triangles",
    "why_not",
]

_MODES = {
    "EDIT": "Edit Mode",
    "SCULPT": "Sculpt Mode",
    "VERTEX_PAINT": "Vertex Paint",
    "WEIGHT_PAINT": "Weight Paint",
    "TEXTURE_PAINT": "Texture Paint",
}


class Refused(Exception):  # noqa: N818  (words for the user, no fault of the program)
    """Something that the user has to put right first; the message says what and how."""


@dataclass(frozen=True, slots=True, eq=False)
class Snapshot:
    """The sculpt as it is now.

    Attributes
    ----------
    vertices : (V, 3) float64, mm, world coordinates
    faces : (F, 3) int32, counter-clockwise from outside
    names : of the objects, in the order in which they were taken
    notes : what the user should know about it, a sentence each
    uv : (F, 3, 2) float32, of the corners of each face in the active UV map, nan where there is none; None
        where it is not asked for
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.int32]
    names: tuple[str, ...]
    notes: tuple[str, ...]
    uv: NDArray[np.float32] | None = None

    def fingerprint(self) -> str:
        """A hash of every coordinate and corner."""
        digest = hashlib.blake2b(digest_size=16)
        digest.update(np.ascontiguousarray(self.vertices).data)
        digest.update(np.ascontiguousarray(self.faces).data)
        return digest.hexdigest()

    def file_name(self) -> str:
        """Name of the file for it: that of its first object. Results are labelled with it."""
        return UNFIT.sub("_", self.names[0]).strip(". ") + ".npz"

    def save(self, path: Path) -> None:
        """Write an archive that the library reads.

        Raises
        ------
        Refused
            The file cannot be written.
        """
        try:
            with path.open("wb") as file:
                np.savez(file, vertices=self.vertices, faces=self.faces, **self._texture())
        except OSError as error:
            raise Refused(f"The sculpt cannot be written to {path}: {error.strerror or error}") from error

    def _texture(self) -> dict[str, NDArray[np.float32]]:
        """The UV map as the library reads it."""
        if self.uv is None:
            return {}
        u, v = (np.ascontiguousarray(self.uv[..., k]) for k in (0, 1))
        return dict(zip(TEXTURE_ARRAYS, (u, v), strict=True))


def chosen(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The objects that make up the sculpt: those selected, else those of the last look or make.

    Result objects do not count, so that the buck can be made again with a vent marker selected. A copy of one
    does: it is the user's. The body that the part goes over is none either.
    """
    assert context.scene is not None and context.view_layer is not None
    # While a mode other than Object Mode is on, its object counts as selected even if it is not.
    active, own = context.view_layer.objects.active, results.owned()
    body = settings.of(context.scene).body_object
    if body is not None:
        own |= {body.session_uid}
    selected = [one for one in context.view_layer.objects.selected if _is_solid(one, own)]
    if active is not None and active.mode != "OBJECT" and _is_solid(active, own) and active not in selected:
        selected.append(active)
    return selected or [one for one in results.sculpts(context.scene) if one.name in context.scene.objects]


def _is_solid(one: bpy.types.Object, own: frozenset[int]) -> bool:
    """Whether an object can be a sculpt: a mesh, or an empty that shows a collection; no result, no heat."""
    shows = one.type == "EMPTY" and one.instance_type == "COLLECTION" and one.instance_collection is not None
    mesh = one.type == "MESH" and not heat_painting.is_painted(one)
    return one.session_uid not in own and (mesh or shows)


def why_not(context: bpy.types.Context) -> str:  # noqa: PLR0911  (one return a reason)
    """Why the sculpt cannot be taken now, in words with the way out; empty if it can. Cheap."""
    scene, layer = context.scene, context.view_layer
    if scene is None or layer is None:
        return "There is no scene"
    if scene.library is not None:
        return "This scene is linked from another file: open that file, or work in a scene of your own"
    found = chosen(context)
    if not found:
        own = results.owned()
        others = [one for one in layer.objects.selected if one.session_uid not in own]
        if others:
            kind = others[0].type.replace("_", " ").lower()
            name = others[0].name
            return f"'{name}' is not a mesh ({kind}): select a mesh object, or use Object > Convert > Mesh"
        return "Select the sculpt: one mesh object or several"
    for one in found:
        if one.mode != "OBJECT":
            mode = _MODES.get(one.mode, one.mode.replace("_", " ").title())
            return f"'{one.name}' is in {mode}: go to Object Mode first"
        if one.name in layer.objects and not one.hide_viewport and visibility.is_aside(scene, one):
            continue  # the buck hides it; it is brought into view to be taken
        if one.hide_viewport or one.name not in layer.objects or not one.visible_get(view_layer=layer):
            return f"'{one.name}' is hidden: show it in the viewport, or select another object"
    return ""


def take(
    context: bpy.types.Context, objects: Iterable[bpy.types.Object], *, texture: bool = False
) -> Snapshot:
    """Take the sculpt out of the scene, with its active UV map where that is asked for.

    Raises
    ------
    Refused
        There are no faces, a coordinate is not finite, or an object is scaled to nothing.
    """
    assert context.scene is not None and context.view_layer is not None
    context.view_layer.update()  # matrices of objects that were just moved are old until then
    wanted = {one.session_uid: one.name for one in objects}
    mm = mm_per_unit(context.scene)
    notes: list[str] = []
    seen: set[int] = set()
    vertices: list[NDArray[np.float64]] = []
    faces: list[NDArray[np.int32]] = []
    uv: list[NDArray[np.float32]] = []
    count = 0
    for owner, shown, matrix in _shown(context.evaluated_depsgraph_get(), wanted):
        seen.add(owner)
        part = triangles(shown)
        if part is None:
            notes.append(f"'{shown.name}', shown by '{wanted[owner]}', is not a mesh and was left out")
            continue
        points, corners = _placed(*part, matrix, mm, wanted[owner])
        vertices.append(points)
        faces.append(corners + np.int32(count))
        if texture:
            uv.append(_uv(shown, turned=corners is not part[1]))
        count += len(points)
    empty = [name for uid, name in wanted.items() if uid not in seen]
    if not sum(len(part) for part in faces):
        names = ", ".join(f"'{name}'" for name in wanted.values())
        raise Refused(f"{names} has no faces" if len(wanted) == 1 else f"{names} have no faces")
    notes += [f"'{name}' shows nothing and was left out" for name in empty]
    notes += _multires_notes(objects)
    held = np.concatenate(uv) if texture else None
    return Snapshot(
        np.concatenate(vertices), np.concatenate(faces), tuple(wanted.values()), tuple(notes), held
    )


def stamp(
    context: bpy.types.Context, objects: Iterable[bpy.types.Object], *, texture: bool = False
) -> tuple[str, frozenset[int]]:
    """A hash that changes when what `take` would give changes; many times as fast.

    Parameters
    ----------
    texture : whether the active UV map counts

    Returns
    -------
    The hash, the same after saving and opening; and the session numbers of all objects that it is made of.
    """
    assert context.scene is not None and context.view_layer is not None
    context.view_layer.update()
    wanted = {one.session_uid: one.name for one in objects}
    parts: dict[int, list[bytes]] = {number: [] for number in wanted}
    seen = set(wanted)
    for owner, shown, matrix in _shown(context.evaluated_depsgraph_get(), wanted):
        seen.add(shown.original.session_uid)
        parts[owner].append(_digest(shown, matrix, texture=texture))
    whole = hashlib.blake2b(repr(mm_per_unit(context.scene)).encode(), digest_size=16)
    for held in parts.values():
        whole.update(repr(len(held)).encode())
        for one in sorted(held):  # Blender may tell of instances in another order
            whole.update(one)
    return whole.hexdigest(), frozenset(seen)


def _digest(shown: bpy.types.Object, matrix: NDArray[np.float64], *, texture: bool) -> bytes:
    """A hash of an evaluated object and its place, and of its UV map where that counts."""
    digest = hashlib.blake2b(shown.type.encode(), digest_size=16)
    digest.update(matrix.tobytes())
    if shown.type == "MESH":
        try:
            mesh = shown.to_mesh()
            digest.update(mesh_digest(mesh))
            if texture:
                digest.update(_corner_uv(mesh).data)
        finally:
            shown.to_mesh_clear()
    return digest.digest()


def mesh_digest(mesh: bpy.types.Mesh) -> bytes:
    """A hash of the places of a mesh's vertices, and of its faces."""
    digest = hashlib.blake2b(digest_size=16)
    starts = np.empty(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("loop_start", starts)
    for array in (_positions(mesh), _corner_vertices(mesh), starts):
        digest.update(array.data)
    return digest.digest()


def _shown(depsgraph: bpy.types.Depsgraph, wanted: dict[int, str]) -> Iterator[tuple[int, Any, Any]]:
    """What is seen of the chosen objects: who shows it, the evaluated object, its matrix."""
    for instance in depsgraph.object_instances:
        owner = instance.parent if instance.is_instance else instance.object
        if owner is None or owner.original.session_uid not in wanted:
            continue
        if instance.object.type != "EMPTY":
            yield owner.original.session_uid, instance.object, np.array(instance.matrix_world, np.float64)


def triangles(shown: bpy.types.Object) -> tuple[NDArray[np.float32], NDArray[np.int32]] | None:
    """Corners and triangles of an evaluated object in its own space; None if it has none to give."""
    if shown.type != "MESH":
        return None
    mesh = shown.to_mesh()
    try:
        return _positions(mesh), _corners(mesh)
    finally:
        shown.to_mesh_clear()


def _positions(mesh: bpy.types.Mesh) -> NDArray[np.float32]:
    """(V, 3) places of the vertices of a mesh; a plain copy of Blender's own array."""
    points = np.empty((len(mesh.vertices), 3), np.float32)
    if len(points):
        position: Any = mesh.attributes["position"]
        position.data.foreach_get("vector", points.reshape(-1))
    return points


def _corner_vertices(mesh: bpy.types.Mesh) -> NDArray[np.int32]:
    """(L,) vertex of every corner of the polygons."""
    corners = np.empty(len(mesh.loops), np.int32)
    if len(corners):
        of_corner: Any = mesh.attributes[".corner_vert"]
        of_corner.data.foreach_get("value", corners)
    return corners


def _corners(mesh: bpy.types.Mesh) -> NDArray[np.int32]:
    """(F, 3) vertices of the triangles of a mesh."""
    if len(mesh.loops) == 3 * len(mesh.polygons):  # triangles only: ten times as fast as asking for each
        return _corner_vertices(mesh).reshape(-1, 3)
    triangles = np.empty(3 * len(mesh.loop_triangles), np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    return triangles.reshape(-1, 3)


def _uv(shown: bpy.types.Object, *, turned: bool) -> NDArray[np.float32]:
    """(F, 3, 2) active UV map of an evaluated object, corner by corner of its triangles; nan without one."""
    mesh = shown.to_mesh()
    try:
        loops = np.empty(3 * len(mesh.loop_triangles), np.int32)
        mesh.loop_triangles.foreach_get("loops", loops)
        corners = _corner_uv(mesh)[loops].reshape(-1, 3, 2)
        return np.ascontiguousarray(corners[:, ::-1]) if turned else corners
    finally:
        shown.to_mesh_clear()


def _corner_uv(mesh: bpy.types.Mesh) -> NDArray[np.float32]:
    """(L, 2) active UV map of a mesh at every corner of the polygons; nan without one."""
    layer: Any = mesh.uv_layers.active
    held = np.full((len(mesh.loops), 2), np.nan, np.float32)
    if layer is not None:
        layer.uv.foreach_get("vector", held.reshape(-1))
    return held


def _placed(
    points: NDArray[np.float32], corners: NDArray[np.int32], matrix: NDArray[np.float64], mm: float, name: str
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """The part in world millimetres; a mirrored one is turned inside out again."""
    if not np.isfinite(points).all() or not np.isfinite(matrix).all():
        raise Refused(
            f"'{name}' has coordinates that are not finite numbers: delete those vertices, or remesh it"
        )
    handed = float(np.linalg.det(matrix[:3, :3]))
    if handed == 0.0:
        raise Refused(
            f"'{name}' is scaled to zero along an axis: set its scale, or use Object > Clear > Scale"
        )
    world = (points @ matrix[:3, :3].T + matrix[:3, 3]) * mm
    return world, np.ascontiguousarray(corners[:, ::-1]) if handed < 0.0 else corners


def multires_levels(objects: Iterable[bpy.types.Object]) -> list[tuple[str, int, int]]:
    """Name, shown level and sculpted level of every object with Multires."""
    return [
        (one.name, modifier.levels if modifier.show_viewport else 0, modifier.total_levels)
        for one in objects
        for modifier in one.modifiers
        if isinstance(modifier, bpy.types.MultiresModifier) and modifier.total_levels
    ]


def _multires_notes(objects: Iterable[bpy.types.Object]) -> list[str]:
    """Warnings about sculpted levels that are not shown."""
    return [
        f"'{name}' shows Multires level {shown} of {sculpted}: "
        "raise the modifier's Level Viewport to use all sculpted detail"
        for name, shown, sculpted in multires_levels(objects)
        if shown < sculpted
    ]
