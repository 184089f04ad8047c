"""The outline of the base as a curve of few control points, which a hand can take hold of."""

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

__all__ = ["MOST_POINTS", "add_spline", "fitted", "longest"]

type Array = NDArray[np.float64]

MOST_POINTS = 16
"""Control points of a line at most. A house rule: those of a dense outline cannot be moved by hand."""
_NEAR_MM = 0.3
"""A curve as near as this gets no more control points: a judgement, a tenth of a usual land."""
_PLACES = 720
"""Evenly spaced places of the line that the curve is fitted to."""
_BESIDE = _PLACES // 80
"""How far to both sides of a place its turn is measured."""
_SHARP_DEG = 40.0
"""A control point where the line turns more than this is a corner. A judgement."""
_LEAST_GAP = 10
"""Places between two control points at least."""
_STEPS = 16
"""Straight pieces that Blender draws between two control points."""


def longest(lines: Sequence[Array]) -> int:
    """Number of the closed line that is the longest way round."""
    return int(np.argmax([np.linalg.norm(line - np.roll(line, -1, axis=0), axis=1).sum() for line in lines]))


def add_spline(curve: bpy.types.Curve, line: Array, *, mm: float) -> None:
    """Add a closed line to a curve: straight where it has few corners, else smooth through few points.

    Parameters
    ----------
    line : (N, 3) corners, mm
    mm : millimetres in a unit of the scene
    """
    if len(line) <= MOST_POINTS:
        spline = curve.splines.new("POLY")
        spline.points.add(len(line) - 1)
        _put(spline.points, "co", np.column_stack([line / mm, np.ones(len(line))]))
    else:
        spline = curve.splines.new("BEZIER")
        places, lefts, rights, corner = fitted(line)
        spline.bezier_points.add(len(places) - 1)
        for point, is_corner in zip(spline.bezier_points, corner, strict=True):
            point.handle_left_type = point.handle_right_type = "FREE" if is_corner else "ALIGNED"
        for name, values in (("co", places), ("handle_left", lefts), ("handle_right", rights)):
            _put(spline.bezier_points, name, values / mm)
        spline.resolution_u = _STEPS
    spline.use_cyclic_u = True


def fitted(line: Array) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
    """Control points of a curve along a closed line.

    Parameters
    ----------
    line : (N, 3) corners, mm, N >= 3

    Returns
    -------
    (K, 3) places, (K, 3) left and right handles, (K,) whether the curve has a corner there; 4 <= K <= 16

    Notes
    -----
    Cubic pieces by least squares over places evenly along the line. Four control points at first; one more
    where the curve is farthest from the line, at the corner there if there is one, until it is near.
    """
    around, turns = _evenly(line)
    knots = np.arange(0, _PLACES, _PLACES // 4)
    while True:
        corner = turns[knots] > _SHARP_DEG
        basis = _basis(knots, corner)
        solved = np.linalg.lstsq(basis, around, rcond=None)[0]
        off = np.linalg.norm(basis @ solved - around, axis=1)
        if off.max() <= _NEAR_MM or len(knots) == MOST_POINTS:
            return (*_handles(knots, corner, solved), corner)
        knots = np.sort(np.append(knots, _next(knots, off, turns)))


def _put(points: Any, name: str, values: Array) -> None:
    points.foreach_set(name, np.ascontiguousarray(values, np.float32).reshape(-1))


def _evenly(line: Array) -> tuple[Array, Array]:
    """(P, 3) places evenly along the line, the first where it turns most; (P,) its turn there, degrees."""
    closed = np.vstack([line, line[:1]])
    far = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1)))
    at = np.linspace(0.0, far[-1], _PLACES, endpoint=False)
    around = np.column_stack([np.interp(at, far, closed[:, k]) for k in range(3)])
    before, after = around - np.roll(around, _BESIDE, axis=0), np.roll(around, -_BESIDE, axis=0) - around
    lengths = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    cosines = np.einsum("pk,pk->p", before, after) / np.maximum(lengths, 1e-30)
    turns = np.degrees(np.arccos(np.clip(cosines, -1.0, 1.0)))
    first = -int(turns.argmax())
    return np.roll(around, first, axis=0), np.roll(turns, first)


def _lengths(knots: NDArray[np.int64]) -> NDArray[np.int64]:
    """Places in the piece behind each control point."""
    return (np.roll(knots, -1) - knots) % _PLACES


def _basis(knots: NDArray[np.int64], corner: NDArray[np.bool_]) -> Array:
    """(P, 2 K + corners) what control points and directions add to each place, by Hermite's cubics."""
    count = len(knots)
    piece = np.searchsorted(knots, np.arange(_PLACES), side="right") - 1
    following, long = (piece + 1) % count, _lengths(knots)[piece].astype(np.float64)
    t = (np.arange(_PLACES) - knots[piece]) % _PLACES / long
    leaving, arriving = count + np.arange(count), _arriving(corner)
    basis, rows = np.zeros((_PLACES, 2 * count + int(corner.sum()))), np.arange(_PLACES)
    basis[rows, piece] = (1.0 + 2.0 * t) * (1.0 - t) ** 2
    basis[rows, following] = t**2 * (3.0 - 2.0 * t)
    basis[rows, leaving[piece]] = long * t * (1.0 - t) ** 2
    basis[rows, arriving[following]] = long * t**2 * (t - 1.0)
    return basis


def _arriving(corner: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Column of the direction in which the curve arrives at each control point: its own at a corner."""
    count = len(corner)
    return np.where(corner, 2 * count + np.cumsum(corner) - 1, count + np.arange(count))


def _handles(
    knots: NDArray[np.int64], corner: NDArray[np.bool_], solved: Array
) -> tuple[Array, Array, Array]:
    """Places, left and right handles; a third of the way of each piece, as Bézier's cubics have them."""
    count, after = len(knots), _lengths(knots)
    places = solved[:count]
    right = places + solved[count : 2 * count] * (after / 3.0)[:, None]
    left = places - solved[_arriving(corner)] * (np.roll(after, 1) / 3.0)[:, None]
    return places, left, right


def _next(knots: NDArray[np.int64], off: Array, turns: Array) -> int:
    """Where one more control point helps most."""
    worst = int(off.argmax())
    near = np.arange(worst - _LEAST_GAP, worst + _LEAST_GAP + 1) % _PLACES
    if turns[near].max() > _SHARP_DEG:
        worst = int(near[turns[near].argmax()])
    gaps = np.abs((knots - worst + _PLACES // 2) % _PLACES - _PLACES // 2)
    if gaps.min() >= _LEAST_GAP:
        return worst
    long = _lengths(knots)
    piece = np.searchsorted(knots, np.arange(_PLACES), side="right") - 1
    bad = np.bincount(piece, off**2, len(knots)) * (long >= 2 * _LEAST_GAP)
    split = int(bad.argmax())
    return int((knots[split] + long[split] // 2) % _PLACES)
