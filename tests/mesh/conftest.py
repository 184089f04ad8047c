"""Small bodies that the tests of the door share."""

from types import SimpleNamespace

import numpy as np
import pytest
import trimesh

from buckwright.mesh.triangles import Mesh


def mesh_of(body):
    return Mesh.from_arrays(body.vertices, body.faces)


def box(size=(20.0, 20.0, 20.0), centre=(0.0, 0.0, 0.0)):
    body = trimesh.creation.box(size)
    return Mesh.from_arrays(body.vertices + np.asarray(centre), body.faces)


def ball(radius=10.0, subdivisions=3):
    return mesh_of(trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius))


def joined(*meshes):
    starts = np.cumsum([0] + [mesh.vertex_count for mesh in meshes])
    faces = [mesh.faces + start for mesh, start in zip(meshes, starts[:-1], strict=True)]
    return Mesh.from_arrays(np.concatenate([mesh.vertices for mesh in meshes]), np.concatenate(faces))


def turned(mesh):
    return Mesh(mesh.vertices, np.ascontiguousarray(mesh.faces[:, ::-1]))


def relief(height, *, count=21, side=40.0):
    """A square height map as an open sheet; `height(x, y)` in mm."""
    line = np.linspace(0.0, side, count)
    x, y = np.meshgrid(line, line)
    i = np.arange(count * count).reshape(count, count)
    a, b, c, d = i[:-1, :-1].ravel(), i[:-1, 1:].ravel(), i[1:, 1:].ravel(), i[1:, :-1].ravel()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    z = np.broadcast_to(height(x, y), x.shape)
    return Mesh.from_arrays(np.stack([x.ravel(), y.ravel(), z.ravel()], 1), faces)


def hooked_ball(subdivisions=4):
    """A ball of 40 mm with a finger pushed right through itself."""
    body = ball(40.0, subdivisions)
    points = body.vertices.copy()
    push = np.clip((points[:, 0] - 30.0) / 10.0, 0.0, 1.0)
    points[:, 0] -= 95.0 * push**2
    points[:, 1] += 0.37 * push
    return Mesh(points, body.faces)


@pytest.fixture(scope="session")
def bodies():
    return SimpleNamespace(
        box=box,
        ball=ball,
        joined=joined,
        turned=turned,
        relief=relief,
        hooked_ball=hooked_ball,
        mesh_of=mesh_of,
    )
