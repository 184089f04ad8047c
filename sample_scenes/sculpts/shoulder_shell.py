"""Shoulder shell: rows of stiff leaves on a dome, each lip standing off the next row by 1 to 4 mm."""

import numpy as np
from numpy.typing import NDArray

from sculpting.clay import Clay, Faces, mesh_of
from sculpting.shapes import ball, ellipsoid, frame, noise, plate, tube

__all__ = ["FILE", "UNIT_MM", "sculpt"]

FILE = "sculpt.obj"
UNIT_MM = 10.0
PITCH = 1.08
DOME = np.array([87.0, 68.0, 60.0])
CROWN = np.array([-34.0, 0.0])
"""Where the rows of leaves start: towards the neck."""
SCOOP = (-126.0, 52.0)
"""Middle (x) and radius of the upright cylinder that clears the neck."""
SWAY, SKIN = 20260511, 20260512
"""Seeds of the leaves' disorder and of the leather."""


def sculpt(coarse: float = 1.0) -> tuple[NDArray[np.float64], Faces]:
    """Make the shell, rim down on z = 0, neck towards -x; `coarse` multiplies the lattice spacing."""
    pitch = PITCH * coarse
    return mesh_of(_recipe, low=(-116, -96, -0.37 * pitch), high=(116, 96, 86), pitch=pitch)


def _recipe(clay: Clay) -> None:
    clay.add(ellipsoid((0, 0, 0), DOME))
    _leaves(clay)
    _crest(clay)
    clay.cut(tube([(SCOOP[0], 0, -20), (SCOOP[0], 0, 110)], [SCOOP[1]] * 2, steps=1), 5)
    _collar(clay)
    _rim(clay)
    skin = noise(SKIN, size=6.0, octaves=3)
    clay.displace(lambda p: np.float32(0.2) * skin(p), 0.2)
    clay.keep_above(0.0)


def _surface(x: float, y: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    inside = max(1 - (x / DOME[0]) ** 2 - (y / DOME[1]) ** 2, 0.015)
    point = np.array([x, y, DOME[2] * np.sqrt(inside)])
    out = point / DOME**2
    return point, out / np.linalg.norm(out)


def _leaves(clay: Clay) -> None:
    rng = np.random.default_rng(SWAY)
    for row, share in enumerate((0.2, 0.37, 0.54, 0.70, 0.84, 0.95)):
        count = 7 + 4 * row
        for turn in 2 * np.pi * (np.arange(count) + 0.5 * (row % 2)) / count:
            x, y = CROWN * (1 - share) + share * DOME[:2] * [np.cos(turn), np.sin(turn)]
            if x < -78:
                continue
            root, out = _surface(float(x), float(y))
            heading = np.array([np.cos(turn) + 0.15, np.sin(turn) + rng.normal(0, 0.05), 0])
            tangent = np.cross(np.cross(out, heading), out)
            lift = 0.20 + rng.uniform(0, 0.10)
            size = rng.uniform(0.92, 1.08) * (0.86 + 0.06 * row)
            leaf = plate(
                root - 2.4 * out,
                frame(tangent / np.linalg.norm(tangent) + lift * out, out),
                length=44 * size,
                width=31 * size,
                thickness=3.0,
                bend=7.0,
                cup=3.2,
                blunt=0.42,
                rib=1.3,
                barbs=0.55,
                barb_pitch=4.2,
            )
            clay.add(leaf, 0.4)


def _crest(clay: Clay) -> None:
    """Three large leaves down the middle, over everything."""
    for x, length in ((30.0, 60.0), (-2.0, 58.0), (-34.0, 56.0)):
        root, out = _surface(x, 0.0)
        along = frame(np.cross([0, 1, 0], out) + 0.26 * out, out)
        clay.add(
            plate(
                root - 0.2 * out,
                along,
                length=length,
                width=34,
                thickness=3.6,
                bend=11,
                cup=4.5,
                blunt=0.4,
                rib=1.8,
                barbs=0.6,
                barb_pitch=5,
            ),
            0.5,
        )


def _collar(clay: Clay) -> None:
    """A rolled edge around the neck scoop, with studs."""
    turns = np.linspace(-0.86, 0.86, 11)
    path = []
    for x, y in zip(SCOOP[0] + (SCOOP[1] + 2) * np.cos(turns), (SCOOP[1] + 2) * np.sin(turns)):
        path.append(_surface(float(x), float(y))[0] + [0, 0, 2])
    clay.add(tube(path, [4.6] * 11), 3)
    for at in path[1:-1]:
        clay.add(ball(at + np.array([2.2, 0, 4.6]), 2.4), 0.4)


def _rim(clay: Clay) -> None:
    turns = np.linspace(-2.45, 2.45, 40)
    path = np.stack([92 * np.cos(turns), 73 * np.sin(turns), np.full(40, 4.2)], 1)
    clay.add(tube(path, [4.4] * 40, steps=2), 2)
