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
    assert (closing.rims, len(closing.holes), closing.floor_mm) == (1, 0, floor)
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
    assert (closing.rims, len(closing.holes)) == (1, 1)
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


def tilted_bust(bodies, degrees, subdivisions=4):
    """A ball cut open, its opening looking down and then tilted about y."""
    body = bodies.ball(40.0, subdivisions)
    bust = body.submesh(body.centroids()[:, 2] > -25.0)
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
    return Mesh(bust.vertices @ turn.T, bust.faces)


@pytest.mark.parametrize(
    ("degrees", "walled"), [(0, True), (40, True), (60, False), (89, False), (91, False), (180, False)]
)
def test_only_openings_that_clearly_face_down_get_walls(bodies, degrees, walled):
    bust = tilted_bust(bodies, degrees)
    closing = close_down(bust, floor_z=-60.0)
    assert (closing.rims, len(closing.holes)) == ((1, 0) if walled else (0, 1))
    assert check_mesh(closing.mesh).clean
    capped = bodies.ball(40.0, 4).volume_mm3()
    if not walled:
        assert 0.85 * capped < closing.mesh.volume_mm3() < capped


def test_walls_that_would_cross_the_surface_give_way_to_a_cap(bodies):
    """The rim faces down, but a fold of the sculpt reaches under it."""
    bust = tilted_bust(bodies, 0)
    points = bust.vertices.copy()
    low = points[:, 2] < -10.0
    # the lower part leans over, so that the rim lies beyond the side of the ball
    points[low, 0] += (-10.0 - points[low, 2]) * 2.5
    leaning = Mesh(points, bust.faces)
    closing = close_down(leaning, floor_z=-60.0)
    assert check_mesh(closing.mesh).crossing_pairs == 0
