"""The modelling tools: balls, tubes, plates, feathers, curls, and repeatable noise."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import map_coordinates

from sculpting.clay import Field, Points, Shape

__all__ = [
    "ball",
    "block",
    "curl",
    "ellipsoid",
    "frame",
    "noise",
    "plate",
    "prism",
    "ring",
    "tube",
]

Vector = ArrayLike


def frame(along: Vector, outward: Vector) -> NDArray[np.float64]:
    """Rows u, v, w: u along the first direction, w as near to the second as a right angle allows."""
    u = np.asarray(along, float) / np.linalg.norm(along)
    w = np.asarray(outward, float) - u * np.dot(u, outward)
    w /= np.linalg.norm(w)
    return np.stack([u, np.cross(w, u), w])


def ball(centre: Vector, radius: float) -> Shape:
    """A sphere."""
    middle = np.asarray(centre, float)
    at = middle.astype(np.float32)
    return Shape(lambda p: _length(p - at) - np.float32(radius), middle - radius, middle + radius)


def ellipsoid(centre: Vector, radii: Vector, axes: NDArray[np.float64] | None = None) -> Shape:
    """An ellipsoid whose radii lie along the rows of `axes`; the distance is the usual first-order one."""
    middle, size = np.asarray(centre, float), np.asarray(radii, float)
    turn = np.eye(3) if axes is None else axes
    reach = np.abs(turn.T * size).sum(1)
    one, two = (1 / size).astype(np.float32), (1 / size**2).astype(np.float32)

    def distance(p: Points) -> Field:
        q = _local(p, middle, turn)
        first = _length(q * one)
        return first * (first - 1) / np.maximum(_length(q * two), np.float32(1e-6))

    return Shape(distance, middle - reach, middle + reach)


def tube(path: ArrayLike, radii: Sequence[float], *, steps: int = 6) -> Shape:
    """A round tube of changing radius along a smooth (Catmull-Rom) curve through the given points."""
    line, width = (
        _smooth(np.asarray(path, float), steps),
        _smooth(np.asarray(radii, float)[:, None], steps)[:, 0],
    )
    at, thick = line.astype(np.float32), width.astype(np.float32)

    def distance(p: Points) -> Field:
        nearest = np.full(p.shape[:-1], 1e3, np.float32)
        for a, b, r, s in zip(at[:-1], at[1:], thick[:-1], thick[1:]):
            span, away = b - a, p - a
            t = np.clip(away @ span / max(float(span @ span), 1e-9), 0, 1)
            np.minimum(nearest, _length(away - t[..., None] * span) - (r + t * (s - r)), out=nearest)
        return nearest

    most = float(width.max())
    return Shape(distance, line.min(0) - most, line.max(0) + most)


def block(centre: Vector, half: Vector, rounding: float, axes: NDArray[np.float64] | None = None) -> Shape:
    """A box with rounded edges."""
    middle, size = np.asarray(centre, float), np.asarray(half, float)
    turn = np.eye(3) if axes is None else axes
    reach = np.abs(turn.T * size).sum(1)
    core = (size - rounding).astype(np.float32)

    def distance(p: Points) -> Field:
        q = np.abs(_local(p, middle, turn)) - core
        return _length(np.maximum(q, 0)) + np.minimum(q.max(-1), 0) - np.float32(rounding)

    return Shape(distance, middle - reach, middle + reach)


def prism(
    sides: int, *, bottom: float, top: float, low_radius: float, high_radius: float, rounding: float = 0.5
) -> Shape:
    """An upright prism or pyramid stump with the z axis in its middle; radii of the inscribed circle."""
    turns = 2 * np.pi * (np.arange(sides) + 0.5) / sides
    facing = np.stack([np.cos(turns), np.sin(turns)]).astype(np.float32)
    slope = (high_radius - low_radius) / (top - bottom)
    lean = np.float32(1 / np.hypot(1, slope))

    def distance(p: Points) -> Field:
        z = p[..., 2]
        out = (
            (p[..., :2] @ facing).max(-1)
            - np.float32(low_radius)
            - (z - np.float32(bottom)) * np.float32(slope)
        )
        q = np.stack(
            [out * lean, np.abs(z - np.float32((bottom + top) / 2)) - np.float32((top - bottom) / 2)], -1
        )
        q += np.float32(rounding)
        return _length(np.maximum(q, 0)) + np.minimum(q.max(-1), 0) - np.float32(rounding)

    reach = max(low_radius, high_radius) / np.cos(np.pi / sides)
    return Shape(distance, np.array([-reach, -reach, bottom]), np.array([reach, reach, top]))


def ring(centre: Vector, radius: float, thickness: float, axes: NDArray[np.float64] | None = None) -> Shape:
    """A torus in the plane of the first two rows of `axes`."""
    middle = np.asarray(centre, float)
    turn = np.eye(3) if axes is None else axes
    reach = np.full(3, radius + thickness)

    def distance(p: Points) -> Field:
        q = _local(p, middle, turn)
        return np.hypot(np.hypot(q[..., 0], q[..., 1]) - np.float32(radius), q[..., 2]) - np.float32(
            thickness
        )

    return Shape(distance, middle - reach, middle + reach)


def plate(
    root: Vector,
    axes: NDArray[np.float64],
    *,
    length: float,
    width: float,
    thickness: float,
    bend: float = 0.0,
    cup: float = 0.0,
    blunt: float = 0.35,
    rib: float = 0.0,
    barbs: float = 0.0,
    barb_pitch: float = 1.8,
) -> Shape:
    """A leaf or a feather, growing from `root` along the first row of `axes` with its face along the third.

    Parameters
    ----------
    length, width, thickness : full size, mm
    bend, cup : how far the tip and the long edges dip below the flat, mm
    blunt : where the widest place lies: 0.5 middle, less nearer the root
    rib : height of the midrib, mm
    barbs, barb_pitch : depth and spacing of the slanting grooves, mm
    """
    base = np.asarray(root, float)
    half = width / 2
    drop = abs(bend) + abs(cup) + thickness + rib
    corners = np.array([(u, v, w) for u in (0, length) for v in (-half, half) for w in (-drop, drop)]) @ axes
    ease = np.log(0.5) / np.log(blunt)

    def distance(p: Points) -> Field:
        u, v, w = np.moveaxis(_local(p, base, axes), -1, 0)
        t = np.clip(u / np.float32(length), 0, 1)
        across = np.abs(v)
        # A leaf outline: half a sine wave, pushed towards the root; steep ends are tamed by the factor 0.7.
        outline = np.float32(half) * np.abs(np.sin(np.pi * t ** np.float32(ease))) ** np.float32(0.8)
        beyond = np.maximum(-u, u - np.float32(length))
        side = np.maximum((across - outline) * np.float32(0.7), beyond)
        w = w + np.float32(bend) * t * t + np.float32(cup) * (v / np.float32(half)) ** 2
        thick = np.float32(thickness / 2)
        if rib:
            thick = thick + np.float32(rib) * np.exp(-((v / np.float32(0.09 * width)) ** 2)) * (1 - t)
        if barbs:
            wave = np.sin((u - 0.9 * across) * np.float32(2 * np.pi / barb_pitch))
            thick = thick + np.float32(barbs / 2) * wave * np.clip(across / np.float32(0.12 * half), 0, 1)
        height = np.abs(w) - thick
        q = np.stack([side, height], -1) + np.float32(0.25 * thickness)
        return _length(np.maximum(q, 0)) + np.minimum(q.max(-1), 0) - np.float32(0.25 * thickness)

    return Shape(distance, base + corners.min(0), base + corners.max(0))


def curl(
    centre: Vector, axes: NDArray[np.float64], *, radius: float, strand: float, dome: float, turn: float = 0.0
) -> Shape:
    """A snail curl of hair: a spiral strand over a small dome, seen along the third row of `axes`."""
    middle = np.asarray(centre, float)
    reach = np.full(3, radius + strand + dome)
    gap = 1.9 * strand

    def distance(p: Points) -> Field:
        u, v, w = np.moveaxis(_local(p, middle, axes), -1, 0)
        out = np.hypot(u, v)
        arm = out / np.float32(gap) - np.arctan2(v, u) * np.float32(0.5 / np.pi) - np.float32(turn)
        across = (arm - np.round(arm)) * np.float32(gap)
        lift = np.float32(dome) * (1 - (out / np.float32(radius)) ** 2)
        d = np.hypot(across, w - np.maximum(lift, np.float32(-dome))) - np.float32(strand)
        # The groove has a floor, or the strand would stand off the head like wire.
        floor = np.maximum(w - lift + np.float32(0.35 * strand), -np.float32(2 * dome) - w)
        return np.maximum(np.minimum(d * np.float32(0.8), floor * np.float32(0.8)), out - np.float32(radius))

    return Shape(distance, middle - reach, middle + reach)


def noise(seed: int, *, size: float, octaves: int = 1, falloff: float = 0.5) -> Callable[[Points], Field]:
    """Band-limited noise in about -1..1, the same for the same seed; `size` is the coarsest wave, mm."""
    table = np.random.default_rng(seed).uniform(-1, 1, (32, 32, 32)).astype(np.float32)
    total = sum(falloff**k for k in range(octaves))

    def value(p: Points) -> Field:
        result = np.zeros(p.shape[:-1], np.float32)
        for k in range(octaves):
            q = p * np.float32(2**k / size) + np.float32(7.3 * k)
            whole = np.floor(q)
            part = q - whole
            eased = whole + part * part * (3 - 2 * part)
            wave = map_coordinates(
                table, np.moveaxis(eased, -1, 0), order=1, mode="grid-wrap", output=np.float32
            )
            result += np.float32(falloff**k / total) * wave
        return result

    return value


def _local(p: Points, centre: NDArray[np.float64], axes: NDArray[np.float64]) -> Points:
    return (p - centre.astype(np.float32)) @ np.ascontiguousarray(axes.T, np.float32)


def _length(p: Points) -> Field:
    return np.sqrt(np.einsum("...i,...i->...", p, p))


def _smooth(knots: NDArray[np.float64], steps: int) -> NDArray[np.float64]:
    """Catmull-Rom curve through the knots."""
    ends = np.concatenate([2 * knots[:1] - knots[1:2], knots, 2 * knots[-1:] - knots[-2:-1]])
    t = (np.arange(steps) / steps)[:, None]
    a, b, c, d = ends[:-3, None], ends[1:-2, None], ends[2:-1, None], ends[3:, None]
    curve = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
    return np.concatenate([curve.reshape(-1, knots.shape[1]), knots[-1:]])
