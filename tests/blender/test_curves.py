"""Trim line and base outline lie on the buck, wherever the pull points."""

import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh


def _points(one):
    """Corners of a curve in the world, and the middles of its straight pieces, mm."""
    matrix = np.array(one.matrix_world)
    drawn = one.to_mesh()
    line = np.array([vertex.co for vertex in drawn.vertices], float)
    ends = np.array([tuple(edge.vertices) for edge in drawn.edges])
    one.to_mesh_clear()
    found = np.concatenate([line, (line[ends[:, 0]] + line[ends[:, 1]]) / 2.0])
    return (found @ matrix[:3, :3].T + matrix[:3, 3]) * 1000.0


def _mesh(one):
    matrix = np.array(one.matrix_world)
    places = np.empty((len(one.data.vertices), 3), np.float32)
    one.data.vertices.foreach_get("co", places.reshape(-1))
    one.data.calc_loop_triangles()
    faces = np.empty((len(one.data.loop_triangles), 3), np.int32)
    one.data.loop_triangles.foreach_get("vertices", faces.reshape(-1))
    return Mesh((places @ matrix[:3, :3].T + matrix[:3, 3]) * 1000.0, faces)


TILTED = (0.3, -0.5, 0.8)


@pytest.fixture
def monkey(scene):
    """Suzanne, 60 mm wide, turned and moved; as it is added, with loose eyes and quads that are not flat."""
    import bpy

    bpy.ops.mesh.primitive_monkey_add(size=0.05, location=(0.03, -0.02, 0.05), rotation=(-0.9, 0.1, 0.3))
    return bpy.context.object


def _pull(scene, pull):
    own = scene.buckwright
    own.underside.fixing, own.underside.engrave, own.forecast.quality = "NONE", False, "OFF"
    own.pull.direction = pull if isinstance(pull, str) else "VECTOR"
    if not isinstance(pull, str):
        own.pull.direction_vector = pull


@pytest.mark.parametrize("pull", ["Z", "MINUS_Y", TILTED])
def test_lines_lie_on_the_buck(addon, scene, solid, pull):
    solid()
    _pull(scene, pull)
    _lines_lie_on_the_buck(addon, scene)


def test_lines_lie_on_the_buck_of_a_monkey_pulled_aslant(addon, scene, monkey):
    _pull(scene, TILTED)
    _lines_lie_on_the_buck(addon, scene)
    # The buck stands over the monkey itself, larger only by what the part will shrink.
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    body, sculpt = _mesh(buck), _mesh(monkey)
    axis = addon.scene.results.pull(scene)
    assert axis == pytest.approx(np.array(TILTED) / np.linalg.norm(TILTED), abs=1e-6)
    top, of_sculpt = (body.vertices @ axis).max(), (sculpt.vertices @ axis).max()
    assert of_sculpt == pytest.approx(top, abs=0.02 * np.ptp(sculpt.vertices @ axis))
    aside = np.linalg.svd(axis[None])[2][1:]
    for way in aside:
        inside = sculpt.vertices @ way
        assert (body.vertices @ way).min() < inside.min() and (body.vertices @ way).max() > inside.max()


def test_live_draft_and_look_agree_on_a_monkey_pulled_aslant(addon, scene, monkey):
    import bpy

    monkey.modifiers.new("Flat", "TRIANGULATE")  # a bent quad has one normal for Blender and two for a look
    _pull(scene, TILTED)
    scene.buckwright.base.sink_to, scene.buckwright.base.sink_mm = "AMOUNT", 0.0
    bpy.ops.buckwright.look()
    look = addon.scene.results.inspection(scene).data
    found = {}
    for name, kind in (("draft_deg", np.float32), ("state", np.int32)):
        found[name] = np.empty(len(look.polygons), kind)
        look.attributes[f"buckwright_{name}"].data.foreach_get("value", found[name])
    live = addon.view.live_draft.measure(bpy.context, monkey)
    assert len(live.faces.faces) == len(look.polygons) > 900
    judged = np.isfinite(found["draft_deg"])
    flat = judged & (np.abs(found["draft_deg"]) < 80.0)  # the arcsine of a single is good to 0.02 near 90
    assert judged.mean() > 0.9  # faces that lie within the solid, at the eyes and ears, are not judged
    assert np.abs(live.values["draft_deg"] - found["draft_deg"])[flat].max() < 5e-3
    # Draft alone knows no overhang: what it calls trapped a look must call trapped too, not the other way.
    leaning = live.values["state"] == 2
    assert leaning.mean() > 0.2 and (found["state"][leaning & judged] == 2).all()
    assert (found["state"][judged] == 2).sum() > (leaning & judged).sum()


def _lines_lie_on_the_buck(addon, scene):
    import bpy
    import igl

    scene.buckwright.forecast.quality = "OFF"
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    bpy.context.view_layer.update()
    (buck,), (trim,), (outline,) = (
        addon.scene.results.objects(scene, role) for role in ("BUCK", "TRIM", "OUTLINE")
    )
    body = _mesh(buck)
    axis = addon.scene.results.pull(scene)
    foot = (body.vertices @ axis).min()
    for line in (trim, outline):
        places = _points(line)
        square = igl.point_mesh_squared_distance(places, body.vertices, np.asarray(body.faces, np.int64))[0]
        off = np.sqrt(np.asarray(square))
        # Air leaves under the rim: where such a channel comes out, the edge of the foot is cut away.
        at_an_edge = off < 0.5
        in_the_foot = np.abs(places @ axis - foot) < 0.01
        assert at_an_edge.mean() > 0.5, f"{line.name}: {np.median(off):.2f} mm off"
        assert (at_an_edge | in_the_foot).all() and off.max() < 3.0, f"{line.name}: {off.max():.2f} mm off"
    assert np.abs(_points(outline) @ axis - foot).max() < 0.01, "the outline is that of the foot"
    trim_height = _points(trim) @ axis - foot
    assert np.ptp(trim_height) < 0.01 and 0.0 < trim_height.mean() < 0.75 * np.ptp(body.vertices @ axis)
