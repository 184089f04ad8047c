"""A picture laid by texture coordinates: by closed forms, by the picture laid down the pull, along a seam."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from buckwright.errors import MeshError
from buckwright.forming.artwork.carrying import Carried
from buckwright.forming.artwork.placing import Placed
from buckwright.forming.artwork.texturing import TextureMap, paint_by_texture
from buckwright.mesh.reading import read_sculpt
from buckwright.mesh.textures import read_texture

SHAPE = (120, 120)


def chequer(squares=6, pixels=20):
    n = np.arange(squares * pixels) // pixels
    grey = np.where((n[:, None] + n) % 2, 0, 255).astype(np.uint8)
    return np.dstack([grey, grey, grey, np.full_like(grey, 255)])


@pytest.fixture(scope="module")
def dome():
    """A sheet of 80 mm drawn straight down over a dome, and the dome: fine triangles of a ball of 60 mm."""
    ball = trimesh.creation.icosphere(5, 60.0)
    line = np.linspace(-40.0, 40.0, 81)
    flat = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    formed = np.column_stack([flat, np.sqrt(3600.0 - (flat**2).sum(1))])
    n = np.arange(81 * 81).reshape(81, 81)
    a, b, c, d = (part.ravel() for part in (n[:-1, :-1], n[:-1, 1:], n[1:, 1:], n[1:, :-1]))
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])]).astype(np.int32)
    whole = np.ones(len(triangles), np.bool_)
    carried = Carried(flat, formed, triangles, whole, ~whole, (80.0, 80.0), np.zeros(2))
    return carried, ball.vertices, ball.faces.astype(np.int64)


def test_coordinates_in_plan_give_the_picture_down_the_pull(dome):
    carried, points, faces = dome
    picture = chequer()
    uv = (points[faces][:, :, :2] + 60.0) / 120.0
    by_texture = paint_by_texture(carried, picture, TextureMap(points, faces, uv), SHAPE)
    down = carried.onto_flat(picture, Placed((0.0, 0.0), 0.0, 1.0, (120, 120)), SHAPE)
    assert (by_texture[..., 3] == 255).all()
    # a facet of the ball turns a place by up to some hundredths of a mm: pixels beside an edge differ
    differ = np.abs(by_texture[..., 0].astype(int) - down[..., 0]) > 60
    assert differ.mean() < 0.01
    assert (by_texture[..., 0] > 127).any() and (by_texture[..., 0] < 128).any()


def test_a_seam_is_sharp_and_what_lies_far_stays_clear(dome):
    """Texture coordinates round the axis: eight sectors, with a seam where the angle starts again."""
    carried, points, faces = dome
    turn = np.arctan2(points[faces][..., 1], points[faces][..., 0])
    turn -= np.round((turn - turn.mean(axis=1, keepdims=True)) / (2 * np.pi)) * 2 * np.pi
    u = turn / (2 * np.pi)  # from -1/2: beyond the edges the picture goes on
    uv = np.stack([u, np.full_like(u, 0.5)], axis=-1)
    stripes = np.zeros((4, 160, 4), np.uint8)
    stripes[:, np.arange(160) // 20 % 2 == 0, :3] = 255
    stripes[..., 3] = 255
    painted = paint_by_texture(carried, stripes, TextureMap(points, faces, uv), SHAPE)
    x, y = np.meshgrid((np.arange(120) + 0.5) / 1.5 - 40.0, 40.0 - (np.arange(120) + 0.5) / 1.5)
    sector = np.arctan2(y, x) / (2 * np.pi) % 1.0 * 8.0
    clear_of_edges = (np.abs(sector - np.round(sector)) * np.hypot(x, y) > 4.0) & (np.hypot(x, y) > 12.0)
    white = np.floor(sector) % 2 == 0
    assert clear_of_edges.sum() > 5000
    assert ((painted[..., 0] > 127) == white)[clear_of_edges].all()
    away = TextureMap(points - [0.0, 0.0, 3.0], faces, uv)
    top = paint_by_texture(carried, stripes, away, SHAPE)[55:65, 55:65, 3]
    assert (top == 0).all()


def test_ink_reaches_one_cell_over_the_edge_of_the_part(dome):
    carried, points, faces = dome
    radius = np.hypot(*np.moveaxis(carried.flat[carried.triangles], 2, 0))
    part = replace(carried, part=(radius < 20.0).all(axis=1))
    ink = TextureMap(points, faces, np.zeros((len(faces), 3, 2)))
    painted = paint_by_texture(part, chequer(), ink, SHAPE)[..., 3] == 255
    x, y = np.meshgrid((np.arange(120) + 0.5) / 1.5 - 40.0, 40.0 - (np.arange(120) + 0.5) / 1.5)
    away = np.hypot(x, y)
    assert painted[away < 20.0].all()  # not ragged where the triangles cross the edge
    assert not painted[away > 20.0 + 2.0 * np.sqrt(2.0)].any()


OBJ = """
v 0 0 0
v 2 0 0
v 2 1 0
v 0 1 0
v 1 0.5 1
vt 0 0
vt 1 0
vt 1 1
vt 0 1
f 1/1 2/2 3/3 4/4
f 1/1/9 4/2/9 5/3/9
f -1//7 -2//7 -3//7
f -5/-4 -1/-3 -4/-2
f 2 5 3
"""


def test_an_obj_gives_its_coordinates_corner_by_corner(tmp_path):
    path = tmp_path / "tent.obj"
    path.write_text(OBJ, encoding="utf-8")
    uv, mesh = read_texture(path), read_sculpt(path).mesh
    assert uv.shape == (mesh.face_count, 3, 2)
    # the quad lies over the picture: u is x / 2 and v is y, in both of its triangles
    quad = mesh.corners()[:2]
    assert np.allclose(uv[:2], quad[..., :2] / [2.0, 1.0])
    assert np.allclose(uv[2], [[0, 0], [1, 0], [1, 1]])
    assert np.isnan(uv[3]).all() and np.isnan(uv[5]).all()
    assert np.allclose(uv[4], [[0, 0], [1, 0], [1, 1]])
    path.write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", encoding="utf-8")
    assert read_texture(path) is None
    assert read_texture(tmp_path / "sculpt.stl") is None


def test_a_coordinate_that_is_not_there_is_told(tmp_path):
    path = tmp_path / "tent.obj"
    path.write_text(OBJ.replace("5/3/9", "5/30/9"), encoding="utf-8")
    with pytest.raises(MeshError, match="texture coordinate that is not there"):
        read_texture(path)
