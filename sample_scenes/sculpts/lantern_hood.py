"""Lantern hood: slender pillars close together on a tiled dome, a drum with plumb walls and blind windows."""

import numpy as np
from numpy.typing import NDArray

from sculpting.clay import Clay, Faces, mesh_of
from sculpting.shapes import ball, block, ellipsoid, noise, prism, ring, tube

__all__ = ["FILE", "UNIT_MM", "sculpt"]

FILE = "sculpt.3mf"
UNIT_MM = 1.0
PITCH = 0.98
SIDES = 8
DRUM = 60.0
EAVES = 36.0
ROOF = np.array([57.0, 57.0, 34.0])
STONE = 20260611
"""Seed of the stone's grain."""


def sculpt(coarse: float = 1.0) -> tuple[NDArray[np.float64], Faces]:
    """Make the hood, standing on z = 0; `coarse` multiplies the lattice spacing."""
    pitch = PITCH * coarse
    return mesh_of(_recipe, low=(-76, -76, -0.37 * pitch), high=(76, 76, 146), pitch=pitch)


def _recipe(clay: Clay) -> None:
    clay.add(prism(SIDES, bottom=-4, top=EAVES, low_radius=DRUM, high_radius=DRUM, rounding=0.8))
    clay.add(prism(SIDES, bottom=-4, top=5, low_radius=DRUM + 4, high_radius=DRUM + 4, rounding=1.2), 1.5)
    clay.add(prism(SIDES, bottom=EAVES - 3, top=EAVES + 2.5, low_radius=DRUM + 4, high_radius=DRUM + 4), 0.8)
    for turn in 2 * np.pi * (np.arange(SIDES) + 0.5) / SIDES:
        _window(clay, np.array([np.cos(turn), np.sin(turn), 0.0]))
    _roof(clay)
    for number, turn in enumerate(2 * np.pi * np.arange(12) / 12):
        _pillar(clay, 41.0, float(turn), 96.0 + 4 * (number % 2), 5.6)
    for turn in 2 * np.pi * (np.arange(6) + 0.25) / 6:
        _pillar(clay, 21.5, float(turn), 112.0, 5.2)
    _finial(clay)
    grain = noise(STONE, size=4.0, octaves=2)
    clay.displace(lambda p: np.float32(0.09) * grain(p), 0.09)
    clay.keep_above(0.0)


def _window(clay: Clay, facing: NDArray[np.float64]) -> None:
    """A blind arch with one mullion, 5 mm deep; its walls are plumb to the wall, so its sill holds air."""
    aside = np.array([-facing[1], facing[0], 0.0])
    axes = np.stack([aside, facing, [0.0, 0.0, 1.0]])
    face, up = DRUM * facing, np.array([0.0, 0.0, 1.0])
    clay.cut(block(face + 15 * up, (11, 5, 6.5), 0.6, axes))
    clay.cut(tube([face - 4 * facing + 20 * up, face + 30 * facing + 20 * up], [11, 11], steps=1))
    clay.add(block(face - 3 * facing + 18 * up, (1.2, 2.2, 12), 0.5, axes), 0.5)
    clay.add(block(face + 0.6 * facing + 7.6 * up, (13, 2.6, 1.3), 0.6, axes), 0.6)


def _roof(clay: Clay) -> None:
    clay.add(ellipsoid((0, 0, EAVES), ROOF), 2)
    for height in np.arange(4.0, 31.0, 4.4):
        radius = ROOF[0] * np.sqrt(1 - (height / ROOF[2]) ** 2)
        clay.add(ring((0, 0, EAVES + height), radius, 1.0), 0.6)
    for turn in 2 * np.pi * np.arange(24) / 24:
        lean = np.linspace(0.05, 1.35, 7)
        out = 1.0 * np.cos(lean)[:, None] * [np.cos(turn), np.sin(turn), 0] * ROOF[0]
        path = out + np.outer(np.sin(lean) * ROOF[2] + EAVES, [0, 0, 1])
        clay.add(tube(path, [1.1] * 7, steps=2), 0.8)


def _pillar(clay: Clay, radius: float, turn: float, top: float, thick: float) -> None:
    x, y = radius * np.cos(turn), radius * np.sin(turn)
    foot = EAVES + ROOF[2] * np.sqrt(1 - (radius / ROOF[0]) ** 2)
    clay.add(tube([(x, y, foot - 8), (x, y, top)], [thick, 0.62 * thick], steps=1), 2.5)
    clay.add(ring((x, y, foot + 7), thick * 0.92, 1.3), 0.6)
    clay.add(ring((x, y, top - 4), 0.62 * thick, 1.2), 0.6)
    clay.add(ball((x, y, top + 2.6), 0.85 * thick), 0.8)
    clay.add(tube([(x, y, top + 3), (x, y, top + 11)], [2.4, 0.9], steps=1), 1.5)


def _finial(clay: Clay) -> None:
    clay.add(tube([(0, 0, 60), (0, 0, 118)], [8.5, 4.6], steps=1), 4)
    clay.add(ring((0, 0, 80), 7.6, 1.8), 1)
    clay.add(ball((0, 0, 118), 8.5), 2)
    clay.add(ring((0, 0, 118), 8.2, 1.2), 0.6)
    clay.add(tube([(0, 0, 122), (0, 0, 141)], [4.0, 1.9], steps=1), 3)
