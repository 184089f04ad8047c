import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from buckwright.mesh.checking import check_mesh
from buckwright.mesh.uniting import resolve_crossings, unite_shells, without_nested_shells

OVERLAP = 2 * 8000 - 9 * 13 * 11  # two boxes of 20 mm, one moved by (11, 7, 9)


@pytest.fixture(scope="module")
def crossed(bodies):
    return bodies.joined(bodies.box(), bodies.box(centre=(11, 7, 9)))


@pytest.mark.parametrize("unite", [unite_shells, resolve_crossings])
def test_union_of_two_boxes_has_its_exact_volume(crossed, unite):
    united = unite(crossed)
    assert united.volume_mm3() == pytest.approx(OVERLAP, rel=1e-12)
    facts = check_mesh(united)
    assert facts.clean
    assert facts.shells == 1


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_union_does_not_depend_on_pose_or_order(crossed, seed):
    rng = np.random.default_rng(seed)
    pose = np.eye(4)
    pose[:3, :3] = Rotation.random(rng=rng).as_matrix()
    pose[:3, 3] = rng.uniform(-50, 50, 3)
    moved = crossed.transformed(pose)
    shuffled = type(moved)(moved.vertices, moved.faces[rng.permutation(moved.face_count)])
    assert resolve_crossings(shuffled).volume_mm3() == pytest.approx(OVERLAP, rel=1e-9)
    assert unite_shells(shuffled).volume_mm3() == pytest.approx(OVERLAP, rel=1e-9)


def test_self_crossing_keeps_every_face_away_from_it(bodies):
    body = bodies.hooked_ball()
    solved = resolve_crossings(body)
    facts = check_mesh(solved)
    assert facts.clean
    assert facts.shells == 1
    old = {tuple(face) for face in body.corners().reshape(-1, 9).tolist()}
    new = {tuple(face) for face in solved.corners().reshape(-1, 9).tolist()}
    # all but the few around the crossing, and the tip that lay inside the body
    assert len(old & new) > 0.9 * len(new)


def test_self_crossing_agrees_with_a_whole_exact_union(bodies):
    from igl.copyleft.cgal import mesh_boolean

    body = bodies.hooked_ball(3)
    none = np.zeros((0, 3))
    vertices, faces, _ = mesh_boolean(
        body.vertices, body.faces.astype(np.int64), none, none.astype(np.int64), "union"
    )
    whole = type(body).from_arrays(vertices, faces)
    assert resolve_crossings(body).volume_mm3() == pytest.approx(whole.volume_mm3(), rel=1e-12)


def test_clean_body_is_left_alone(bodies):
    body = bodies.ball()
    assert resolve_crossings(body) is body
    assert without_nested_shells(body) == (body, 0)


def test_nested_shells_go_and_neighbours_stay(bodies):
    beside = bodies.box(centre=(40, 0, 0))
    inner = bodies.joined(bodies.box((5, 5, 5)), bodies.box((2, 2, 2)))
    filled, gone = without_nested_shells(bodies.joined(bodies.box(), beside, inner))
    assert gone == 2
    assert filled.volume_mm3() == pytest.approx(16000.0)


def test_open_shell_is_refused_by_the_union(bodies):
    body = bodies.box()
    open_box = type(body)(body.vertices, body.faces[1:])
    assert unite_shells(bodies.joined(bodies.box(centre=(5, 5, 5)), open_box)) is None
