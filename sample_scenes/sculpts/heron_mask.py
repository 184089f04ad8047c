"""Heron half-mask: a hooked beak over open air, eye bowls that do not drain, feathers with real lips."""

import numpy as np
from numpy.typing import NDArray

from sculpting.clay import Clay, Faces, mesh_of
from sculpting.shapes import ball, ellipsoid, frame, noise, plate, tube

__all__ = ["FILE", "UNIT_MM", "sculpt"]

FILE = "sculpt.stl"
UNIT_MM = 1.0
PITCH = 0.8
DOME = np.array([76.0, 46.0, 31.0])
"""Half axes of the face that everything sits on; its centre is (0, LIFT, 0)."""
LIFT = 6.0
EYE = np.array([35.0, 7.0])
BEAK = [(0, 20, 22), (0, 5, 39), (0, -14, 51), (0, -35, 56), (0, -51, 53), (0, -63, 45)]
BEAK_RADII = [17.0, 13.2, 10.0, 7.6, 4.8, 1.3]
FIRST, SECOND = 20260411, 20260412
"""Seeds of the feathers' disorder and of the skin."""


def sculpt(coarse: float = 1.0) -> tuple[NDArray[np.float64], Faces]:
    """Make the mask, back down on z = 0, brow towards +y; `coarse` multiplies the lattice spacing."""
    pitch = PITCH * coarse
    vertices, faces = mesh_of(_recipe, low=(-92, -72, -0.37 * pitch), high=(92, 66, 72), pitch=pitch)
    return vertices, faces


def _recipe(clay: Clay) -> None:
    clay.add(ellipsoid((0, LIFT, 0), DOME))
    # The arch over the actor's mouth, and a notch between the brows.
    clay.cut(tube([(0, -82, -20), (0, -82, 80)], [45, 45], steps=1), 7)
    clay.cut(tube([(0, 66, -20), (0, 66, 80)], [17, 17], steps=1), 9)
    for side in (-1.0, 1.0):
        _eye(clay, side)
    _feathers(clay)
    for side in (-1.0, 1.0):
        _plumes(clay, side)
        _brow(clay, side)
    _beak(clay)
    skin = noise(SECOND, size=5.0, octaves=3)
    clay.displace(lambda p: np.float32(0.16) * skin(p), 0.16)
    clay.keep_above(0.0)


def _surface(x: float, y: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Point of the bare dome above (x, y) and the direction out of it."""
    across = np.array([x, y - LIFT])
    inside = max(1 - float(np.sum((across / DOME[:2]) ** 2)), 0.02)
    point = np.array([x, y, DOME[2] * np.sqrt(inside)])
    out = (point - [0, LIFT, 0]) / DOME**2
    return point, out / np.linalg.norm(out)


def _eye(clay: Clay, side: float) -> None:
    middle, out = _surface(side * EYE[0], EYE[1])
    axes = frame((1.0, 0.28 * side, -0.35 * side), out)
    clay.add(ellipsoid(middle, (26, 18, 8), axes), 8)
    clay.cut(ellipsoid(middle + 5 * out, (20, 11.5, 16), axes), 3)
    turns = np.linspace(0, 2 * np.pi, 25)
    rim = middle + 5.2 * out + np.outer(np.cos(turns), 21 * axes[0]) + np.outer(np.sin(turns), 12.2 * axes[1])
    rim -= np.outer(0.12 * np.abs(np.cos(turns)) ** 3 * 21, out)
    clay.add(tube(rim, [1.9] * 25, steps=2), 1.5)
    clay.add(ball(middle - 9 * out, 9.5), 1.2)
    clay.cut(ball(middle + 2.4 * out, 3.4), 0.6)


def _brow(clay: Clay, side: float) -> None:
    path = [(9, 17, 36), (22, 23.5, 38), (38, 26, 35), (56, 29, 27), (74, 36, 15)]
    clay.add(tube([(side * x, y, z) for x, y, z in path], [5.5, 6.6, 6.0, 4.4, 1.8]), 4)
    crease = [(14, 12.5, 40), (26, 18.5, 40), (40, 20.5, 37), (54, 22.5, 31)]
    clay.cut(tube([(side * x, y, z) for x, y, z in crease], [1.0, 1.5, 1.4, 0.6]), 1.2)


def _plumes(clay: Clay, side: float) -> None:
    """Three long crest feathers swept back over each temple."""
    for start, heading, length in (
        ((28, 28), (1, 0.38), 56),
        ((36, 31), (1, 0.62), 46),
        ((19, 31), (1, 0.9), 44),
    ):
        root, out = _surface(side * start[0], start[1])
        axes = frame((side * heading[0], heading[1], -0.06), out + np.array([0, 0, 0.8]))
        clay.add(
            plate(
                root + 3.0 * out,
                axes,
                length=length,
                width=13,
                thickness=2.6,
                bend=13,
                cup=1.6,
                rib=0.9,
                barbs=0.5,
                barb_pitch=2.4,
            ),
            0.6,
        )


def _feathers(clay: Clay) -> None:
    """Overlapping rows that fan out from the beak over the cheeks and the forehead."""
    rng = np.random.default_rng(FIRST)
    for row, radius in enumerate(np.arange(0.30, 0.93, 0.105)):
        count = int(22 + 34 * radius)
        for turn in 2 * np.pi * (np.arange(count) + 0.5 * (row % 2)) / count:
            x, y = DOME[:2] * radius * [np.cos(turn), np.sin(turn)] + [0, LIFT]
            sway = rng.normal(0, 0.07, 2)
            if _bare(float(x), float(y)):
                continue
            root, out = _surface(float(x), float(y))
            heading = np.array([np.cos(turn) * 1.6 + sway[0], np.sin(turn) + sway[1] - 0.1, 0])
            tangent = frame(out, heading)[2]
            axes = frame(tangent + (0.13 + 0.3 * abs(sway[0])) * out, out)
            size = 0.8 + 0.4 * radius
            feather = plate(
                root - 0.9 * out,
                axes,
                length=17 * size,
                width=10 * size,
                thickness=1.9,
                bend=0.9,
                cup=0.9,
                blunt=0.56,
                rib=0.55,
                barbs=0.34,
                barb_pitch=1.9,
            )
            clay.add(feather, 0.25)


def _bare(x: float, y: float) -> bool:
    """No feathers on the eye, the beak, or over the mouth."""
    eye = ((abs(x) - EYE[0]) / 23) ** 2 + ((y - EYE[1]) / 15.5) ** 2 < 1
    return bool(eye or abs(x) < 13 or np.hypot(x, y + 82) < 46 or np.hypot(x, y - 66) < 34)


def _beak(clay: Clay) -> None:
    clay.add(tube(BEAK, BEAK_RADII, steps=12), 7)
    line, radii = np.array(BEAK, float), np.array(BEAK_RADII)
    along = np.gradient(line, axis=0)
    over = np.stack([np.zeros(6), -along[:, 2], along[:, 1]], 1) / np.linalg.norm(along, axis=1)[:, None]
    over *= np.sign(over[:, 2:3])
    clay.add(tube((line + over * (0.86 * radii)[:, None])[1:], list(0.24 * radii[1:] + 0.3)), 2.5)
    for side in (-1.0, 1.0):
        seam = line - over * (0.32 * radii)[:, None] + np.outer(0.97 * radii, [side, 0, 0])
        clay.cut(tube(seam[1:-1], [0.5, 1.1, 1.0, 0.5]), 0.8)
        groove = line + over * (0.52 * radii)[:, None] + np.outer(0.86 * radii, [side, 0, 0])
        clay.cut(tube(groove[1:-1], [1.9, 1.9, 1.2, 0.4]), 1.0)
        axes = frame(line[2] - line[1], (side, 0, 0.7))
        at = line[1] * 0.45 + line[2] * 0.55 + 0.45 * radii[2] * over[1] + [side * 10.6, 0, 0]
        clay.cut(ellipsoid(at, (6.0, 1.9, 5.0), axes), 0.8)
