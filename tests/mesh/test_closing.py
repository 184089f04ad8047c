import numpy as np
import pytest

from buckwright.mesh.checking import check_mesh
from buckwright.mesh.closing import close_down
from buckwright.mesh.triangles import Mesh


def prism_volume(sheet, floor):
    """Volume between a height map and the floor: area seen from above times mean height, face by face."""
    return float(np.sum(sheet.area_vectors()[:, 2] * (sheet.corners()[:, :, 2].mean(1) - floor)))


@pytest.mark.parametrize("floor", [0.0, -7.5])
def test_relief_becomes_a_block_of_exact_volume(bodies, floor):
    sheet = bodies.relief(lambda x, y: 6 + 3 * np.sin(x / 5) * np.cos(y / 7))
    closing = close_down(sheet, floor_z=floor)
    assert (closing.rims, closing.holes, closing.floor_mm) == (1, 0, floor)
    assert closing.mesh.volume_mm3() == pytest.approx(prism_volume(sheet, floor), rel=1e-12)
    assert np.array_equal(closing.mesh.faces[: sheet.face_count], sheet.faces)
    assert np.array_equal(closing.mesh.vertices[: sheet.vertex_count], sheet.vertices)
    assert check_mesh(closing.mesh).clean


def test_relief_that_looks_down_is_turned(bodies):
    sheet = bodies.relief(lambda x, y: 5 + x / 40)
    closing = close_down(bodies.turned(sheet), floor_z=0.0)
    assert closing.mesh.volume_mm3() == pytest.approx(prism_volume(sheet, 0.0))


def test_floor_goes_below_a_sheet_that_touches_it(bodies):
    flat = bodies.relief(lambda x, y: 0 * x)
    closing = close_down(flat, floor_z=0.0)
    assert closing.floor_mm == -1.0
    assert closing.mesh.volume_mm3() == pytest.approx(1600.0)
    assert check_mesh(closing.mesh).clean


def test_open_bottom_on_the_floor_gets_no_wall(bodies):
    body = bodies.box(centre=(0, 0, 10))
    open_body = Mesh(body.vertices, body.faces[body.centroids()[:, 2] > 0.01])
    # a corner in the middle of the lid, so that something is not rim
    closing = close_down(open_body, floor_z=0.0)
    assert closing.mesh.volume_mm3() == pytest.approx(8000.0)
    assert closing.mesh.face_count == 12
    lower = close_down(open_body, floor_z=-5.0)
    assert lower.mesh.volume_mm3() == pytest.approx(20 * 20 * 25.0)


def test_tilted_rim_partly_on_the_floor(bodies):
    sheet = bodies.relief(lambda x, y: x * y / 100 + 0.2 * np.sin(np.pi * x / 40) * np.sin(np.pi * y / 40))
    closing = close_down(sheet, floor_z=0.0)
    assert closing.floor_mm == 0.0
    assert closing.mesh.volume_mm3() == pytest.approx(prism_volume(sheet, 0.0))
    assert check_mesh(closing.mesh).clean


def test_hole_that_looks_up_is_capped_where_it_is(bodies):
    sheet = bodies.relief(lambda x, y: 6 + 0 * x)
    centre = np.linalg.norm(sheet.centroids()[:, :2] - 20, axis=1)
    closing = close_down(Mesh(sheet.vertices, sheet.faces[centre > 5]), floor_z=0.0)
    assert (closing.rims, closing.holes) == (1, 1)
    assert closing.mesh.volume_mm3() == pytest.approx(1600 * 6.0)


def test_inner_rim_on_the_floor_stays_a_hole_of_the_underside():
    # a square ring, open below: outer 4 x 4, inner 2 x 2, 1 high
    outer, inner = (
        np.array([(-2, -2), (2, -2), (2, 2), (-2, 2)]),
        np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]),
    )
    points = [(x, y, z) for ring in (outer, inner) for z in (0, 1) for x, y in ring]
    faces = []
    for k in range(4):
        n = (k + 1) % 4
        faces += [(k, n, 4 + n), (k, 4 + n, 4 + k)]  # outer wall
        faces += [(8 + n, 8 + k, 12 + k), (8 + n, 12 + k, 12 + n)]  # inner wall
        faces += [(4 + k, 4 + n, 12 + n), (4 + k, 12 + n, 12 + k)]  # top
    closing = close_down(Mesh.from_arrays(np.array(points, float), np.array(faces)), floor_z=0.0)
    assert closing.mesh.volume_mm3() == pytest.approx(16 - 4)
    assert check_mesh(closing.mesh).clean


def test_closed_body_is_left_alone(bodies):
    body = bodies.ball()
    assert close_down(body, floor_z=-50.0).mesh is body
