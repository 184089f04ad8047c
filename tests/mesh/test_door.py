import json

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from buckwright.errors import MeshError
from buckwright.mesh.checking import check_mesh
from buckwright.mesh.door import MOVED_WARNING_MM, enter, solidify
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.welding import weld_equal


def methods(entered):
    return [repair.method for repair in entered.repairs]


def test_sound_sculpt_passes_with_the_very_same_arrays(bodies):
    for body in (bodies.ball(), bodies.joined(bodies.box(), bodies.box(centre=(50, 0, 0)))):
        for entered in (enter(body), solidify(body, floor_z=0.0)):
            assert entered.mesh is body
            assert entered.solid
            assert entered.repairs == ()


def test_two_bodies_are_told(bodies):
    entered = enter(bodies.joined(bodies.box(), bodies.box(centre=(50, 0, 0))))
    assert "2 separate bodies" in entered.warnings[0]


@pytest.mark.parametrize(
    ("case", "volume", "words"),
    [
        ("inside out", 8000.0, "inside-out"),
        ("flipped face", 8000.0, "Turned 1 face"),
        ("doubled", 8000.0, "doubled faces"),
        ("no area", 8000.0, "without area"),
        ("fin", 8000.0, "fins"),
        ("cavity", 8000.0, "Filled 1 inner shell"),
        ("crossing", 16000.0 - 9 * 13 * 11, "United 2 overlapping shells"),
        ("crossing, one inside out", 16000.0 - 9 * 13 * 11, "United 2 overlapping shells"),
        ("in one plane", 12000.0, "United 2 overlapping shells"),
        ("inner wall", 16000.0, "kept the outside"),
        ("soup", 8000.0, "corners"),
    ],
)
def test_repairs_of_a_box(bodies, case, volume, words):
    body = bodies.box()
    points, faces = body.vertices, body.faces
    flat = np.concatenate([points, [points[faces[0, :2]].mean(0)]])
    jitter = np.random.default_rng(0).uniform(-3e-6, 3e-6, (36, 3))
    made = {
        "inside out": bodies.turned(body),
        "flipped face": Mesh(points, np.concatenate([faces[:1, ::-1], faces[1:]])),
        "doubled": Mesh(points, np.concatenate([faces, faces[:3]])),
        "no area": Mesh(flat, np.concatenate(
            [faces[1:], [[faces[0, 0], 8, faces[0, 2]], [8, faces[0, 1], faces[0, 2]],
                         [faces[0, 0], faces[0, 1], 8]]]).astype(np.int32)),
        "fin": Mesh(np.concatenate([points, points[:1] + 1]),
                    np.concatenate([faces, [[*faces[0, :2], 8]]]).astype(np.int32)),
        "cavity": bodies.joined(body, bodies.turned(bodies.box((5, 5, 5)))),
        "crossing": bodies.joined(body, bodies.box(centre=(11, 7, 9))),
        "crossing, one inside out": bodies.joined(bodies.turned(body), bodies.box(centre=(11, 7, 9))),
        "in one plane": bodies.joined(body, bodies.box(centre=(10, 0, 0))),
        "inner wall": weld_equal(bodies.joined(body, bodies.box(centre=(20, 0, 0)))),
        "soup": Mesh(points[faces].reshape(-1, 3) + jitter, np.arange(36, dtype=np.int32).reshape(-1, 3)),
    }[case]  # fmt: skip
    entered = enter(made)
    assert entered.solid
    assert entered.mesh.volume_mm3() == pytest.approx(volume, rel=1e-6)
    assert check_mesh(entered.mesh).clean
    assert any(words in repair.words for repair in entered.repairs)
    assert not any("remesh" in repair.method for repair in entered.repairs)


def test_small_hole_is_capped_and_said(bodies):
    body = bodies.ball(10.0, 4)
    entered = enter(Mesh(body.vertices, body.faces[5:]))
    assert entered.solid
    assert methods(entered) == ["cap"]
    assert entered.mesh.volume_mm3() == pytest.approx(body.volume_mm3(), rel=2e-3)


def test_self_crossing_sculpt_keeps_its_detail(bodies):
    entered = enter(bodies.hooked_ball())
    assert entered.solid
    assert methods(entered) == ["unite"]
    assert entered.warnings == ()


def test_open_relief_waits_for_the_floor(bodies):
    sheet = bodies.relief(lambda x, y: 5 + np.sin(x / 4))
    entered = enter(sheet)
    assert not entered.solid
    assert entered.mesh is sheet
    block = solidify(entered.mesh, floor_z=0.0)
    assert block.solid
    assert np.array_equal(block.mesh.vertices[: sheet.vertex_count], sheet.vertices)
    heights = sheet.corners()[:, :, 2].mean(1)
    assert block.mesh.volume_mm3() == pytest.approx(float(sheet.area_vectors()[:, 2] @ heights))


def test_what_is_known_is_not_asked_again(bodies):
    body = bodies.box()
    entered = enter(body)
    lifted = Mesh(body.vertices + np.array([0, 0, 5.0]), body.faces)
    assert solidify(lifted, floor_z=0.0, known=entered).mesh is lifted
    sheet = bodies.relief(lambda x, y: 5 + np.sin(x / 4))
    told = solidify(sheet, floor_z=0.0, known=enter(sheet))
    asked = solidify(sheet, floor_z=0.0)
    assert told.to_dict() == asked.to_dict()
    assert np.array_equal(told.mesh.corners(), asked.mesh.corners())


def test_one_sided_strip_ends_in_a_warned_remesh_or_an_error():
    count, rim = 24, []
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    for s in (-6.0, 6.0):
        reach = 30 + s * np.cos(angle / 2)
        rim.append(np.stack([reach * np.cos(angle), reach * np.sin(angle), s * np.sin(angle / 2)], 1))
    faces = []
    for k in range(count):
        a, b = 2 * k, 2 * k + 1
        c, d = (2 * k + 2, 2 * k + 3) if k < count - 1 else (1, 0)
        faces += [(a, b, c), (b, d, c)]
    entered = enter(Mesh.from_arrays(np.stack(rim, 1).reshape(-1, 3), np.array(faces)))
    assert not entered.solid
    assert "one-sided" in entered.repairs[0].words
    block = solidify(entered.mesh, floor_z=-10.0, voxel_mm=1.0)
    assert methods(block)[-1] == "remesh"
    assert block.solid
    assert block.repairs[-1].moved_mm <= MOVED_WARNING_MM or "remesh" in block.repairs[-1].warning


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ("empty", "no triangles"),
        ("nan", "1 faces have coordinates that are not finite"),
        ("one triangle", "single triangle"),
        ("one point", "no triangle of the sculpt has any area"),
        ("on a line", "no triangle of the sculpt has any area"),
        ("folded flat", "encloses nothing|no volume"),
        ("loose", "loose triangles"),
    ],
)
def test_unusable_sculpts_are_refused_in_plain_words(bodies, case, words):
    body = bodies.box()
    points, faces = body.vertices, body.faces
    bad = points.copy()
    bad[faces[:, 0].max()] = np.nan
    loose = np.random.default_rng(1).normal(size=(90, 3)) * 20
    made = {
        "empty": Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)),
        "nan": Mesh(
            np.concatenate([points, [[0, np.nan, 0]]]), np.concatenate([faces, [[0, 1, 8]]]).astype(np.int32)
        ),
        "one triangle": Mesh(points, faces[:1]),
        "one point": Mesh(points * 0, faces),
        "on a line": Mesh(points * [1, 0, 0], faces),
        "folded flat": Mesh(points * [1, 1, 0], faces),
        "loose": Mesh(loose, np.arange(90, dtype=np.int32).reshape(-1, 3)),
    }[case]
    with pytest.raises(MeshError, match=words):
        enter(made)
    with pytest.raises(MeshError, match=f"{words}|no solid"):
        solidify(made, floor_z=-30.0)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_pose_and_order_do_not_matter(bodies, seed):
    rng = np.random.default_rng(seed)
    body = bodies.joined(bodies.ball(10.0, 2), bodies.turned(bodies.box((9, 9, 9), (9, 0, 0))))
    pose = trimesh.transformations.random_rotation_matrix(rng.random(3))
    pose[:3, 3] = rng.uniform(-100, 100, 3)
    moved = body.transformed(pose)
    shuffled = Mesh(moved.vertices, moved.faces[rng.permutation(moved.face_count)])
    entered = enter(shuffled)
    assert entered.solid
    assert methods(entered) == ["orient", "unite"]
    assert entered.mesh.volume_mm3() == pytest.approx(enter(body).mesh.volume_mm3(), rel=1e-9)


def test_report_is_plain_data(bodies):
    told = enter(bodies.turned(bodies.box())).to_dict()
    assert json.loads(json.dumps(told)) == told
    assert told["found"]["inverted_shells"] == 1
    assert told["repairs"][0]["method"] == "orient"


@pytest.mark.parametrize("share", [0.02, 0.3])
@pytest.mark.parametrize("together", [False, True])
def test_faces_doubled_back_to_back_leave_no_hole(bodies, share, together):
    body = bodies.ball(20.0, 4)
    far = np.linalg.norm(body.centroids() - body.vertices[0], axis=1)
    chosen = np.argsort(far) if together else np.random.default_rng(5).permutation(body.face_count)
    copies = body.faces[chosen[: int(share * body.face_count)]][:, ::-1]
    for faces in (np.concatenate([body.faces, copies]), np.concatenate([copies, body.faces])):
        entered = enter(Mesh(body.vertices, np.ascontiguousarray(faces)))
        assert entered.solid
        assert methods(entered)[0] == "clean"
        assert "cap" not in methods(entered)
        assert entered.mesh.face_count == body.face_count
        assert entered.mesh.volume_mm3() == pytest.approx(body.volume_mm3())


def test_wall_within_a_body_goes_with_both_its_faces(bodies):
    body = bodies.box()
    mirrored = bodies.turned(Mesh(body.vertices * [-1, 1, 1] + [20, 0, 0], body.faces))
    both = weld_equal(bodies.joined(body, mirrored))
    entered = enter(both)
    assert methods(entered) == ["clean"]
    assert entered.solid
    assert entered.mesh.volume_mm3() == pytest.approx(16000.0)


def test_wide_caps_are_warned_about_with_their_place(bodies):
    body = bodies.ball(60.0, 5)
    for radius, warned in ((1.5, False), (6.0, True)):
        far = np.linalg.norm(body.centroids() - np.array([0, 0, 60.0]), axis=1)
        entered = enter(body.submesh(far > radius))
        cap = next(repair for repair in entered.repairs if repair.method == "cap")
        assert bool(cap.warning) is warned
        assert cap.at_mm == pytest.approx((0, 0, 60.0), abs=2.0)
