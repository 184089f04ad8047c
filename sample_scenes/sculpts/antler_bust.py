"""Antlered faun: a bust of a million faces, with snail curls, deep eyes, a hanging chin and ivy."""

import numpy as np
from numpy.typing import NDArray

from sculpting.clay import Clay, Faces, mesh_of
from sculpting.shapes import ball, curl, ellipsoid, frame, noise, plate, tube

__all__ = ["FILE", "UNIT_MM", "sculpt"]

FILE = "sculpt.stl"
UNIT_MM = 1.0
PITCH = 0.5347
SKULL, SKULL_RADII = np.array([0.0, 8.0, 138.0]), np.array([37.0, 45.0, 42.0])
LOCKS, PORES, CHISEL, BARK = 20260811, 20260812, 20260813, 20260814
"""Seeds of the hair's disorder, the pores, the tool marks, and the antlers' bark."""


def sculpt(coarse: float = 1.0) -> tuple[NDArray[np.float64], Faces]:
    """Make the bust, standing on z = 0 and looking towards -y; `coarse` multiplies the lattice spacing."""
    pitch = PITCH * coarse
    return mesh_of(_recipe, low=(-92, -72, -0.37 * pitch), high=(92, 68, 222), pitch=pitch)


def _recipe(clay: Clay) -> None:
    _body(clay)
    for side in (-1.0, 1.0):
        _half_face(clay, side)
    _middle_face(clay)
    _hair(clay)
    _beard(clay)
    _collar(clay)
    bark = noise(BARK, size=3.0, octaves=2)
    for side in (-1.0, 1.0):
        _antler(clay, side)
    pores, chisel = noise(PORES, size=1.9, octaves=2), noise(CHISEL, size=9.0, octaves=2)

    def skin(p: NDArray[np.float32]) -> NDArray[np.float32]:
        high = np.clip((p[..., 2] - 176) / 8, 0, 1)
        return 0.10 * pores(p) + 0.22 * chisel(p) + 0.35 * high * bark(p * np.float32([1, 1, 0.35]))

    clay.displace(skin, 0.7)
    clay.keep_above(0.0)


def _body(clay: Clay) -> None:
    clay.add(ellipsoid(SKULL, SKULL_RADII))
    clay.add(ellipsoid((0, -13, 119), (30, 31, 40)), 12)
    clay.add(tube([(0, -16, 98), (0, -35, 89)], [19, 11.5], steps=1), 8)
    clay.add(tube([(0, 10, 104), (0, 9, 70), (0, 12, 40)], [25, 24, 30]), 8)
    clay.add(ellipsoid((0, 12, 16), (68, 33, 36)), 14)
    for side in (-1, 1):
        clay.add(tube([(0, 14, 72), (side * 30, 14, 50), (side * 54, 14, 26)], [15, 16, 19]), 10)
        clay.add(tube([(side * 21, -2, 108), (side * 12, -15, 66), (side * 4, -20, 43)], [3, 4.4, 2.6]), 6)


def _half_face(clay: Clay, side: float) -> None:
    clay.add(ellipsoid((side * 21, -30, 114), (11, 9, 9)), 9)
    clay.cut(ellipsoid((side * 16.5, -47, 130), (11, 10, 8.5)), 6)
    clay.add(ball((side * 15.5, -34.5, 129), 8.6), 0.8)
    clay.cut(ball((side * 15.5, -43.4, 129), 1.6), 0.8)
    lids = np.linspace(0, np.pi, 9)
    for up, thick in ((7.0, 1.9), (-5.6, 1.4)):
        x = side * (15.5 - 9.2 * np.cos(lids))
        z = 129 + up * np.sin(lids) * 0.9
        y = -34.5 - np.sqrt(np.maximum(9.4**2 - (x - side * 15.5) ** 2 - (z - 129) ** 2, 4.0))
        clay.add(tube(np.stack([x, y, z], 1), [thick * 0.7, *[thick] * 7, thick * 0.7], steps=3), 0.9)
    brow = [(3, -45, 138), (11, -46.5, 141.5), (22, -41, 144), (31, -29, 141)]
    clay.add(tube([(side * x, y, z) for x, y, z in brow], [3.6, 4.6, 4.2, 2.4]), 6)
    clay.add(ball((side * 6.8, -50, 110.5), 4.4), 3)
    clay.cut(tube([(side * 4.0, -57, 104), (side * 4.4, -53.5, 112)], [2.1, 1.6], steps=1), 1)
    fold = [(9, -49, 110), (15, -43, 103), (17.5, -38, 95)]
    clay.cut(tube([(side * x, y, z) for x, y, z in fold], [0.7, 1.5, 0.5]), 2.5)
    _ear(clay, side)


def _ear(clay: Clay, side: float) -> None:
    axes = frame((side, 0.35, 0.28), (-0.25 * side, -1.0, 0.15))
    root = np.array([side * 31, -2.0, 124])
    leaf = plate(root, axes, length=48, width=21, thickness=5, bend=4, cup=-4.5, blunt=0.38)
    clay.add(leaf, 4)
    clay.cut(
        tube([root + 8 * axes[0] + 3.5 * axes[2], root + 32 * axes[0] + 2.2 * axes[2]], [4.2, 1.2], steps=1),
        2,
    )


def _middle_face(clay: Clay) -> None:
    clay.add(tube([(0, -44, 138), (0, -52, 126), (0, -60, 114)], [4.6, 4.8, 6.2]), 5)
    clay.add(tube([(0, -55, 109), (0, -49, 103)], [2.2, 2.6], steps=1), 3)
    upper = [(-14, -41, 97.5), (-6, -48.5, 100.5), (0, -50, 99.5), (6, -48.5, 100.5), (14, -41, 97.5)]
    clay.add(tube(upper, [1.4, 2.8, 2.7, 2.8, 1.4]), 2)
    clay.add(tube([(-12, -41.5, 95.5), (0, -48.2, 93.6), (12, -41.5, 95.5)], [1.4, 3.6, 1.4]), 2)
    clay.cut(tube([(-15, -42.5, 97.8), (0, -52.0, 97.0), (15, -42.5, 97.8)], [0.6, 1.3, 0.6]), 0.8)
    clay.add(ball((0, -41, 84.5), 8.2), 5)


def _hair(clay: Clay) -> None:
    """Snail curls over the skull, spread evenly, leaving out the face, the ears and the antlers' feet."""
    rng = np.random.default_rng(LOCKS)
    count = 330
    for k in range(count):
        z = 1 - 2 * (k + 0.5) / count
        turn = k * np.pi * (3 - np.sqrt(5))
        out = np.array([np.sqrt(1 - z * z) * np.cos(turn), np.sqrt(1 - z * z) * np.sin(turn), z])
        at = SKULL + SKULL_RADII * out
        forehead = 150 - 0.16 * abs(at[0])
        spin, size = rng.uniform(0, 1), rng.uniform(5.4, 7.0)
        if at[2] < 98 or (at[1] < -8 and at[2] < forehead) or (at[1] < 0 and at[2] < 128):
            continue
        normal = out / SKULL_RADII
        axes = frame(np.cross(normal, rng.normal(size=3)), normal)
        if k % 2:
            axes = axes * np.array([[1], [-1], [1]])
        lift = axes[2] * (1.0 if at[2] > 100 else 0.0)
        clay.add(curl(at + lift, axes, radius=size, strand=1.25, dome=3.4, turn=float(spin)), 0.5)


def _beard(clay: Clay) -> None:
    """Curls over the jaw and a pointed goatee of twisted locks that hangs free under the chin."""
    for side in (-1.0, 1.0):
        for row, z in enumerate(np.arange(84.0, 120.0, 6.4)):
            for turn in np.radians(np.arange(24, 112, 15) + 7.5 * (row % 2)):
                if z > 88 + 26 * np.sin(turn) ** 6 or (turn < 0.6 and z > 86):
                    continue
                out = np.array([side * np.sin(turn), -np.cos(turn), -0.25])
                level = np.sqrt(1 - ((z - 119) / 42) ** 2)
                at = np.array([31 * level * out[0], -13 + 33 * level * out[1], z])
                axes = frame((0.1 * row, 0.3 * side, 1), out) * np.array([[1], [side], [1]])
                clay.add(
                    curl(at, axes, radius=5.4, strand=1.25, dome=3.0, turn=0.17 * row + float(turn)), 0.8
                )
        for k, (sway, length) in enumerate(((1.5, 26), (5.0, 22), (8.5, 17))):
            turns = np.linspace(0, 1, 8)
            x = side * (sway * (1 - 0.55 * turns) + 1.1 * np.sin(9 * turns + k))
            y = -46 + 0.5 * sway + 1.4 * np.cos(9 * turns + k) - 6 * turns + 9 * turns**2
            z = 84 - length * turns
            clay.add(tube(np.stack([x, y, z], 1), list(3.4 - 2.4 * turns), steps=3), 0.9)


def _collar(clay: Clay) -> None:
    """Two rows of ivy around the shoulders."""
    for row, (spread, height, count) in enumerate((((38, 30), 56, 17), ((56, 36), 40, 21))):
        for turn in 2 * np.pi * (np.arange(count) + 0.5 * row) / count:
            c, s = np.cos(turn), np.sin(turn)
            root = np.array([spread[0] * c, 11 + spread[1] * s, height - 8 * abs(c) ** 2 - 3 * s])
            axes = frame((c, s, -1.15), (0.75 * c, 0.75 * s, 0.9))
            clay.add(
                plate(
                    root,
                    axes,
                    length=30,
                    width=17,
                    thickness=2.4,
                    bend=5,
                    cup=2.2,
                    blunt=0.42,
                    rib=0.9,
                    barbs=0.45,
                    barb_pitch=2.6,
                ),
                0.5,
            )


def _antler(clay: Clay, side: float) -> None:
    beam = [(17, -10, 168), (25, -8, 182), (40, -2, 193), (54, 0, 204), (58, -4, 216)]
    clay.add(tube([(side * x, y, z) for x, y, z in beam], [7.0, 5.2, 4.6, 3.6, 1.2]), 2)
    tines = (
        [(25, -8, 182), (22, -16, 192), (19, -20, 203)],
        [(40, -2, 193), (41, -9, 202), (38, -13, 212)],
        [(45, -1, 197), (57, 2, 196), (68, 0, 203)],
    )
    for tine in tines:
        clay.add(tube([(side * x, y, z) for x, y, z in tine], [3.8, 2.9, 0.9]), 2.5)
    clay.add(
        tube(
            [
                (side * (17 + 8 * np.cos(t)), -10 + 8 * np.sin(t), 173 - 3 * np.cos(t))
                for t in np.linspace(0, 2 * np.pi, 9)
            ],
            [1.9] * 9,
        ),
        1.2,
    )
