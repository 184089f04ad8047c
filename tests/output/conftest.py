"""A small sculpt with everything a picture must show: an overhang, steep and open faces, a base."""

import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.normals import unit_normals
from buckwright.survey.face_maps import FaceMaps


def ball(*, rings: int = 48, radius_mm: float = 30.0, centre_z_mm: float = 30.0) -> Mesh:
    """A closed ball of latitude rings, outward."""
    slices = 2 * rings
    polar = np.linspace(0, np.pi, rings + 1)[1:-1]
    turn = np.arange(slices) * 2 * np.pi / slices
    p, t = np.meshgrid(polar, turn, indexing="ij")
    shell = np.stack([np.sin(p) * np.cos(t), np.sin(p) * np.sin(t), np.cos(p)], -1).reshape(-1, 3)
    points = np.vstack([shell, [[0, 0, 1], [0, 0, -1]]]) * radius_mm + [0, 0, centre_z_mm]
    top, bottom = len(shell), len(shell) + 1
    i, j = np.meshgrid(np.arange(rings - 2), np.arange(slices), indexing="ij")
    a, b = (i * slices + j).ravel(), (i * slices + (j + 1) % slices).ravel()
    c, d = a + slices, b + slices
    ring, following = np.arange(slices), (np.arange(slices) + 1) % slices
    last = (rings - 2) * slices
    faces = np.vstack(
        [
            np.stack([a, c, b], 1),
            np.stack([b, c, d], 1),
            np.stack([np.full(slices, top), ring, following], 1),
            np.stack([np.full(slices, bottom), last + following, last + ring], 1),
        ]
    )
    return Mesh.from_arrays(points, faces)


def maps_of(mesh: Mesh, *, wanted_deg: float = 10.0, base_below_mm: float = 1.0) -> FaceMaps:
    """States of a ball by its draft alone; what lies lowest counts as base."""
    draft = np.degrees(np.arcsin(np.clip(unit_normals(mesh)[:, 2], -1, 1)))
    state = np.where(draft < 0, 2, np.where(draft < wanted_deg, 1, 0)).astype(np.uint8)
    state[mesh.centroids()[:, 2] < base_below_mm] = 3
    trapped = state == 2
    depth = np.where(trapped, 30.0 - mesh.centroids()[:, 2], 0.0)
    return FaceMaps(state, draft, depth, depth / 3, np.where(trapped, 0, -1).astype(np.int32))


@pytest.fixture(scope="session")
def sculpt() -> Mesh:
    return ball()


@pytest.fixture(scope="session")
def maps(sculpt: Mesh) -> FaceMaps:
    return maps_of(sculpt)
