"""Cutting faces: the surface stays, parts meet at whole edges, no side is longer than asked."""

import numpy as np
import pytest
import trimesh
from pytest import approx

from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.splitting import cut_faces, faces_over, halve_edges
from buckwright.mesh.triangles import Mesh


def body(name: str) -> Mesh:
    made = {
        "box": lambda: trimesh.creation.box((30.0, 7.0, 2.0)),
        "cylinder": lambda: trimesh.creation.cylinder(10.0, 25.0, sections=40),
        "ball": lambda: trimesh.creation.icosphere(2, radius=9.0),
    }[name]()
    return Mesh.from_arrays(made.vertices, made.faces)


@pytest.mark.parametrize("name", ["box", "cylinder", "ball"])
def test_parts_cover_their_faces_and_nothing_else(name):
    mesh = body(name)
    finer, source = cut_faces(mesh, np.ones(mesh.face_count, bool), over_mm=1.3)
    assert not faces_over(finer, 1.3).any()
    assert faces_over(mesh, 1.3).any()
    area = np.linalg.norm(mesh.area_vectors(), axis=1)
    of_parts = np.bincount(source, np.linalg.norm(finer.area_vectors(), axis=1), mesh.face_count)
    assert of_parts == approx(area)
    assert finer.volume_mm3() == approx(mesh.volume_mm3())
    assert set(edge_table(finer.faces).face_count.tolist()) == {2}
    assert np.array_equal(finer.vertices[: mesh.vertex_count], mesh.vertices)
    ways = mesh.area_vectors()[source] / area[source, None]
    assert np.einsum("ij,ij->i", ways, finer.area_vectors()).min() > 0.0


def test_only_chosen_faces_and_their_neighbours_are_cut():
    mesh = body("ball")
    chosen = np.arange(mesh.face_count) == 5
    finer, origin, new = halve_edges(mesh, chosen, over_mm=0.1)
    assert np.bincount(origin)[5] == 4
    assert sorted(np.unique(np.bincount(origin), return_counts=True)[1].tolist()) == [1, 3, 316]
    assert np.array_equal(finer.faces[~new], mesh.faces[origin[~new]])
    assert set(edge_table(finer.faces).face_count.tolist()) == {2}


def test_faces_that_are_not_chosen_keep_their_long_sides():
    mesh = body("box")
    flat = np.abs(mesh.area_vectors()[:, 2]) > 0.0
    finer, source = cut_faces(mesh, ~flat, over_mm=1.3)
    assert not faces_over(finer, 1.3)[~flat[source]].any()
    assert faces_over(finer, 1.3)[flat[source]].any()
    assert set(edge_table(finer.faces).face_count.tolist()) == {2}


def test_small_faces_are_left_as_they_are():
    mesh = body("ball")
    assert cut_faces(mesh, np.ones(mesh.face_count, bool), over_mm=20.0)[0] is mesh
    empty = Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    assert cut_faces(empty, np.zeros(0, bool), over_mm=1.0)[0].face_count == 0
    assert halve_edges(empty, np.zeros(0, bool), over_mm=1.0)[0].face_count == 0
