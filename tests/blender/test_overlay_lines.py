"""Hatching and outlines of trapped faces against closed forms and a plain second method."""

from collections import Counter
from importlib import import_module
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

SLANT = np.array([1.0, 0.63, 1.0])


@pytest.fixture(scope="module")
def lines(addon: ModuleType) -> ModuleType:
    return import_module(f"{addon.__name__}.view.overlay_lines")


def square(side: int, size: float) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """A flat square of 2 side^2 triangles."""
    x, y = np.meshgrid(np.linspace(0.0, size, side + 1), np.linspace(0.0, size, side + 1), indexing="ij")
    vertices = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1).astype(np.float32)
    first = (np.arange(side)[:, None] * (side + 1) + np.arange(side)).ravel()
    quads = np.stack([first, first + side + 1, first + side + 2, first + 1], axis=1)
    return vertices, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]).astype(np.int32)


def lengths(ends: NDArray[np.float32]) -> NDArray[np.float64]:
    pairs = ends.reshape(-1, 2, 3).astype(np.float64)
    return np.linalg.norm(pairs[:, 1] - pairs[:, 0], axis=1)


@pytest.mark.parametrize("side", [1, 7, 40])
def test_hatching_of_a_square_has_the_length_that_its_area_asks_for(lines: ModuleType, side: int) -> None:
    # Parallel lines s apart have a total length of area / s; planes cut a plane at s / sin of their angle.
    vertices, faces = square(side, 10.0)
    spacing = 0.02
    ends = lines.hatching(vertices, faces, np.ones(len(faces), bool), spacing=spacing)
    sine = np.linalg.norm(SLANT[:2]) / np.linalg.norm(SLANT)
    assert lengths(ends).sum() == pytest.approx(100.0 * sine / spacing, rel=5e-3)


def test_a_corner_that_lies_on_a_plane_draws_nothing_outside_its_face(lines: ModuleType) -> None:
    # The lowest corner always does: planes are counted from it.
    for corners in np.random.default_rng(8).normal(size=(50, 3, 3)).astype(np.float32):
        ends = lines.hatching(corners, np.array([[0, 1, 2]], np.int32), np.ones(1, bool), spacing=0.3)
        assert len(ends)
        assert (ends >= corners.min(axis=0) - 1e-5).all() and (ends <= corners.max(axis=0) + 1e-5).all()


def test_hatching_lies_in_its_planes_and_on_the_faces(lines: ModuleType) -> None:
    rng = np.random.default_rng(3)
    vertices = rng.normal(size=(60, 3)).astype(np.float32)
    faces = rng.permutation(60).reshape(20, 3).astype(np.int32)
    ends = lines.hatching(vertices, faces, np.ones(20, bool), spacing=0.1).astype(np.float64)
    normal = SLANT / np.linalg.norm(SLANT)
    planes = (ends @ normal - (vertices.astype(np.float64) @ normal).min()) / 0.1
    assert np.abs(planes - np.round(planes)).max() < 1e-3
    middles = ends.reshape(-1, 2, 3).mean(axis=1)
    corners = vertices[faces].astype(np.float64)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    heights = np.abs(np.einsum("lfk,fk->lf", middles[:, None] - corners[None, :, 0], normals)).min(axis=1)
    assert heights.max() < 1e-5


def test_hatching_opens_up_before_there_are_too_many_lines(lines: ModuleType) -> None:
    vertices, faces = square(1, 10.0)
    ends = lines.hatching(vertices, faces, np.ones(2, bool), spacing=1e-6)
    assert 100_000 < len(ends) // 2 <= 400_000


def test_only_chosen_faces_are_hatched(lines: ModuleType) -> None:
    vertices, faces = square(8, 8.0)
    left = vertices[faces][:, :, 0].max(axis=1) <= 4.0
    ends = lines.hatching(vertices, faces, left, spacing=0.3)
    assert len(ends)
    assert ends[:, 0].max() <= 4.0 + 1e-5


def test_nothing_to_mark(lines: ModuleType) -> None:
    vertices, faces = square(1, 1.0)
    none = np.zeros(2, bool)
    assert lines.hatching(vertices, faces, none, spacing=1.0).shape == (0, 3)
    assert lines.outlines(vertices, faces, none).shape == (0, 3)
    assert lines.outlines(vertices, faces, ~none).shape == (0, 3)
    assert lines.outlines(vertices, faces[:0], none[:0]).shape == (0, 3)


def test_outline_of_half_a_square(lines: ModuleType) -> None:
    vertices, faces = square(8, 8.0)
    left = vertices[faces][:, :, 0].max(axis=1) <= 4.0
    ends = lines.outlines(vertices, faces, left)
    assert (ends[:, 0] == 4.0).all()
    assert lengths(ends).sum() == pytest.approx(8.0)


@given(bits=st.lists(st.booleans(), min_size=72, max_size=72))
def test_outlines_against_counting_every_edge(lines: ModuleType, bits: list[bool]) -> None:
    vertices, faces = square(6, 6.0)
    chosen = np.array(bits)
    uses: dict[bool, Counter[tuple[int, ...]]] = {True: Counter(), False: Counter()}
    for face, mark in zip(faces.tolist(), bits, strict=True):
        for a, b in ((0, 1), (1, 2), (2, 0)):
            uses[mark][tuple(sorted((face[a], face[b])))] += 1
    between = {edge for edge in uses[True] if edge in uses[False]}
    found = {
        tuple(sorted(int(np.flatnonzero((vertices == end).all(axis=1))[0]) for end in pair))
        for pair in lines.outlines(vertices, faces, chosen).reshape(-1, 2, 3)
    }
    # Where both ends of an edge at the rim of the mesh meet other faces, it is drawn too: no harm.
    rim = {edge for edge in uses[True] if uses[True][edge] + uses[False][edge] == 1}
    assert between <= found <= between | rim
