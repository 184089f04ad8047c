"""Solids with marks, unions, one piece."""

import numpy as np
import pytest
from manifold3d import Manifold
from pytest import approx

from buckwright.errors import SolidError
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh, as_solid, faces_of, new_mark, single_body, united
from buckwright.shape.solid_arrays import arrays_of, solid_of, without_crumbs


def box(side: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Mesh:
    return as_mesh(Manifold.cube((side,) * 3).translate(at))


def test_there_and_back():
    mesh = box(7.0)
    solid = as_solid(mesh)
    assert solid.volume() == approx(343.0)
    back = as_mesh(solid)
    assert back.vertices.dtype == np.float64 and back.faces.dtype == np.int32
    assert back.volume_mm3() == approx(343.0)
    assert back.vertices.flags.c_contiguous and back.faces.flags.c_contiguous


def test_broken_meshes_are_refused():
    mesh = box(7.0)
    with pytest.raises(SolidError, match="NotManifold"):
        as_solid(Mesh(mesh.vertices, mesh.faces[1:]))
    gone = mesh.vertices.copy()
    gone[3, 1] = np.nan
    with pytest.raises(SolidError, match="NonFiniteVertex"):
        as_solid(Mesh(gone, mesh.faces))


def test_marks_differ():
    assert len({new_mark() for _ in range(100)}) == 100


def test_a_mark_stays_on_its_faces_through_booleans():
    mark, other = new_mark(), new_mark()
    sticking_out = as_solid(box(4.0, (8.0, 3.0, 3.0)), mark=mark)
    whole = united([as_solid(box(10.0), mark=other), sticking_out])
    mesh, mine, rest = as_mesh(whole), faces_of(whole, mark), faces_of(whole, other)
    area = np.linalg.norm(mesh.area_vectors(), axis=1)
    assert area[mine].sum() == approx(4 * 4 + 4 * 4 * 2)
    assert area[rest].sum() == approx(600 - 16)
    assert not (mine & rest).any()
    assert not faces_of(whole, new_mark()).any()


def test_union_of_many_counts_shared_space_once():
    boxes = [as_solid(box(10.0, (9.0 * n, 0.0, 0.0))) for n in range(5)]
    assert united(boxes).volume() == approx(10 * 10 * 46)


def test_one_piece_drops_crumbs_and_cavities():
    crumb = Manifold.cube((0.5,) * 3).translate((20, 0, 0))
    cavity = Manifold.cube((2,) * 3).translate((4, 4, 4))
    whole, dropped = single_body((Manifold.cube((10,) * 3) - cavity) + crumb, sliver_mm3=1.0)
    assert dropped == 2
    assert whole.volume() == approx(1000.0)
    same, none = single_body(Manifold.cube((10,) * 3), sliver_mm3=1.0)
    assert none == 0 and same.volume() == approx(1000.0)


def test_crumbs_are_left_out_of_arrays_as_of_solids():
    mark, other = new_mark(), new_mark()
    rim = as_solid(box(4.0, (8.0, 0.0, 0.0)), mark=mark)
    crumb = as_solid(box(0.5, (30.0, 0.0, 0.0)), mark=other)
    whole = united([Manifold.cube((10,) * 3), rim, crumb]) - Manifold.cube((2,) * 3).translate((4, 4, 4))
    arrays, dropped = without_crumbs(arrays_of(whole), sliver_mm3=1.0)
    one, as_many = single_body(whole, sliver_mm3=1.0)
    solid, marks = solid_of(arrays)
    assert dropped == as_many == 2
    assert other not in marks
    assert solid.volume() == approx(one.volume())
    assert faces_of(solid, marks[mark]).sum() == faces_of(one, mark).sum() > 0
    again, none = without_crumbs(arrays, sliver_mm3=1.0)
    assert again is arrays and none == 0


def test_one_piece_refuses_two_real_ones_and_nothing():
    apart = Manifold.cube((10,) * 3) + Manifold.cube((5,) * 3).translate((20, 0, 0))
    with pytest.raises(SolidError, match="2 loose pieces"):
        single_body(apart, sliver_mm3=1.0)
    with pytest.raises(SolidError, match="empty"):
        single_body(Manifold.cube((0.1,) * 3), sliver_mm3=1.0)
    with pytest.raises(SolidError, match="empty"):
        single_body(Manifold(), sliver_mm3=1.0)
