"""Puts the job together: settings of a scene, and vents, blocks, outline, holes and planes marked in it."""

import json
from typing import Any

import bpy
import numpy as np

from . import hand_marks, hole_markers, outline_curve, results, settings, snapshot
from .fields import files_of_job
from .job_scale import job_scale, scaled
from .placement import Placement

__all__ = ["blocks_at_mm", "of", "outline_mm", "planes_mm", "vents_at_mm", "wants_texture"]


def of(scene: bpy.types.Scene, *, sculpt: str = "", body: str = "") -> dict[str, dict[str, Any]]:
    """The tables of the job file of a scene.

    Parameters
    ----------
    sculpt : name of a snapshot beside the job file, which is in millimetres; left out, the job names the
        file that it was opened with
    body : name of a snapshot of the body beside it; left out, as for the sculpt
    """
    found = settings.read_tables(scene)
    if sculpt:
        found["sculpt"] |= {"file": sculpt, "unit": "mm"}
    for table, key in files_of_job():
        # a run happens elsewhere: '//', beside the .blend file, means nothing there
        if file := found[table].get(key):
            found[table][key] = bpy.path.abspath(file)
    found["group"]["others"] = _each_whole(found["group"].get("others", ""))
    if body:
        found["body"]["file"] = body
        found["body"].pop("unit", None)  # it lies in the same scene as the sculpt
    if (places := vents_at_mm(scene)) is not None:
        found["vents"]["at_mm"] = places
    _fresh_matrices(scene)
    found["edge"] |= hole_markers.places_mm(scene, settle=True)
    if (tops := blocks_at_mm(scene)) is not None:
        found["take_up"]["at_mm"] = tops
    if (outline := outline_mm(scene)) is not None:
        found["base"]["outline_mm"] = outline
    if (planes := planes_mm(scene)) is not None:
        found["printer"]["planes_mm"] = planes
    return scaled(found, job_scale(scene, snapshot.chosen(bpy.context)))


def _each_whole(files: str) -> str:
    """Files parted by semicolons, each by its whole path."""
    return "; ".join(bpy.path.abspath(one.strip()) for one in files.split(";") if one.strip())


def vents_at_mm(scene: bpy.types.Scene) -> list[list[float]] | None:
    """Places of the vents in the sculpt's coordinates, mm; None while they are chosen by the library."""
    kept = results.of(scene)
    if not settings.of(scene).vents_by_hand:
        return None
    markers = hand_marks.vent_objects(scene)
    if not markers and kept.collection is None:
        return None
    _fresh_matrices(scene)
    placement = Placement.of(scene)
    return [_place(marker, placement) for marker in markers]


def blocks_at_mm(scene: bpy.types.Scene) -> list[list[float]] | None:
    """Tops of the blocks in the sculpt's coordinates, and their radius, mm; None while they are sought."""
    if not settings.of(scene).blocks_by_hand or results.of(scene).collection is None:
        return None
    _fresh_matrices(scene)
    placement = Placement.of(scene)
    return [
        [*_place(marker, placement)[:3], _radius_mm(marker, placement)]
        for marker in hand_marks.block_objects(scene)
    ]


def _radius_mm(marker: bpy.types.Object, placement: Placement) -> float:
    exact: Any = marker.get("buckwright_at_mm")
    if exact is not None and not hand_marks.is_moved(marker):
        return float(exact[3])
    across = max(abs(marker.scale[0]), abs(marker.scale[2]))  # an empty's circle lies across its own Y
    return round(float(marker.empty_display_size * across * placement.mm / placement.drawn), 5)


def _place(marker: bpy.types.Object, placement: Placement) -> list[float]:
    exact: Any = marker.get("buckwright_at_mm")
    if exact is not None and not hand_marks.is_moved(marker):
        return [float(v) for v in exact]
    place = placement.to_sculpt(np.array(marker.matrix_world.translation, np.float64)[None])[0]
    # A hundredth of a micrometre: the rest is noise of single precision.
    return [round(float(v), 5) for v in place]


def outline_mm(scene: bpy.types.Scene) -> list[list[float]] | None:
    """Corners of the base in the sculpt's coordinates, mm; None while the library makes the outline."""
    curves = results.objects(scene, "OUTLINE")
    if not curves or not settings.of(scene).outline_by_hand:
        return None
    curve = curves[0]
    exact: Any = curve.get("buckwright_outline_mm")
    if exact is not None and hand_marks.drawn(curve) == [*curve.get("buckwright_put", ())]:
        return [[float(v) for v in corner] for corner in json.loads(exact)]
    _fresh_matrices(scene)
    points = Placement.of(scene).to_sculpt(_traced(curve))
    return [[round(float(v), 5) for v in corner] for corner in points]


def planes_mm(scene: bpy.types.Scene) -> list[list[float]] | None:
    """Split planes in the buck's frame, mm; None while the library chooses them."""
    empties = results.objects(scene, "CUT")
    if not empties or not settings.of(scene).planes_by_hand:
        return None
    _fresh_matrices(scene)
    placement = Placement.of(scene)
    return [_plane(one, placement) for one in empties]


def _plane(empty: bpy.types.Object, placement: Placement) -> list[float]:
    """Three numbers across a plane and its distance from the origin; as told where it was not moved."""
    told: Any = empty.get("buckwright_plane_mm")
    if told is not None and hand_marks.stands(empty) == hand_marks.was_put(empty):
        return [float(part) for part in told]
    matrix = np.array(empty.matrix_world, np.float64)
    ends = placement.to_buck(np.stack([matrix[:3, 3], matrix[:3, 3] + matrix[:3, 2]]))
    across = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    return [round(float(part), 7) for part in (*across, across @ ends[0])]


def _traced(curve: bpy.types.Object) -> np.ndarray[Any, np.dtype[np.float64]]:
    """(P, 3) points along the longest closed line of a curve, world, Blender units: curves are sampled."""
    mesh = curve.to_mesh()
    try:
        loops = _loops([tuple(edge.vertices) for edge in mesh.edges])
        points = np.array([vertex.co for vertex in mesh.vertices], np.float64).reshape(-1, 3)
    finally:
        curve.to_mesh_clear()
    if not loops:
        return np.zeros((0, 3))
    lines = [points[loop] for loop in loops]
    line = lines[outline_curve.longest(lines)]
    matrix = np.array(curve.matrix_world, np.float64)
    return np.asarray(line @ matrix[:3, :3].T + matrix[:3, 3])


def wants_texture(scene: bpy.types.Scene) -> bool:
    """Whether a picture is laid by the UV map of the sculpt."""
    artwork = settings.of(scene).artwork
    return bool(artwork.file) and artwork.by == settings.identifier("uv")


def _loops(edges: list[tuple[int, ...]]) -> list[list[int]]:
    """Vertices along each line of a wire mesh, in order."""
    beside: dict[int, list[int]] = {}
    for a, b in edges:
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    left, loops = set(beside), []
    while left:
        ends = [vertex for vertex in left if len(beside[vertex]) == 1]
        at: int | None = min(ends or left)
        loop: list[int] = []
        while at is not None:
            left.discard(at)
            loop.append(at)
            at = next((vertex for vertex in beside[at] if vertex in left), None)
        loops.append(loop)
    return loops


def _fresh_matrices(scene: bpy.types.Scene) -> None:
    for layer in scene.view_layers:
        layer.update()
