"""Outlines of trapped faces against closed forms and a plain second method."""

from collections import Counter
from importlib import import_module
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray


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


def test_nothing_to_mark(lines: ModuleType) -> None:
    vertices, faces = square(1, 1.0)
    none = np.zeros(2, bool)
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
