"""Trim line and base outline lie on the buck, wherever the pull points."""

import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh


def _points(one):
    """Corners of a curve in the world, and the middles of its straight pieces, mm."""
    matrix = np.array(one.matrix_world)
    found = []
    for spline in one.data.splines:
        places = np.empty((len(spline.points), 4), np.float32)
        spline.points.foreach_get("co", places.reshape(-1))
        line = places[:, :3].astype(float)
        found.append(np.concatenate([line, (line + np.roll(line, -1, axis=0)) / 2.0]))
    return (np.concatenate(found) @ matrix[:3, :3].T + matrix[:3, 3]) * 1000.0


def _mesh(one):
    matrix = np.array(one.matrix_world)
    places = np.empty((len(one.data.vertices), 3), np.float32)
    one.data.vertices.foreach_get("co", places.reshape(-1))
    one.data.calc_loop_triangles()
    faces = np.empty((len(one.data.loop_triangles), 3), np.int32)
    one.data.loop_triangles.foreach_get("vertices", faces.reshape(-1))
    return Mesh((places @ matrix[:3, :3].T + matrix[:3, 3]) * 1000.0, faces)


@pytest.mark.parametrize("pull", ["Z", "MINUS_Y", (0.3, -0.5, 0.8)])
def test_lines_lie_on_the_buck(addon, scene, solid, pull):
    import bpy
    import igl

    solid()
    own = scene.buckwright
    own.base.fixing, own.base.engrave, own.forecast.quality = "NONE", False, "OFF"
    own.pull.direction = pull if isinstance(pull, str) else "VECTOR"
    if not isinstance(pull, str):
        own.pull.direction_vector = pull
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    bpy.context.view_layer.update()
    (buck,), (trim,), (outline,) = (
        addon.results.objects(scene, role) for role in ("BUCK", "TRIM", "OUTLINE")
    )
    body = _mesh(buck)
    axis = addon.results.pull(scene)
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
