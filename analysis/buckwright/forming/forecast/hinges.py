"""What keeps a slack sheet in order: stiffness against a jump of stretch or slope between two triangles.

Where the sheet wrinkles, its relaxed energy says nothing of how the nodes lie across the wrinkles: they
drift, or the pressure blows a row of lobes a cell wide that fold over. A real sheet has no such freedom.
So the jump of the deformation gradient between two triangles costs energy where one of them is slack. It is
linear in the nodes (the hinge of Bergou, Wardetzky, Harmon, Zorin & Grinspun, Symp. Geometry Processing 2006,
from memory) and falls as the square of the cell where the sheet is smooth.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.adjacency import edge_table

__all__ = ["HINGE", "Hinges", "add_hinge_forces", "hinges_of", "slackness"]

HINGE = 1.0
"""Stiffness of a hinge in a slack sheet, in modulus x thickness: that of a sheet 1.7 cells thick in bending.

With 0.5 a ball on a stem folds at its foot from 20,000 nodes on, with 1 it does not at 2,500 to 20,000."""
_ALL_SLACK = 0.1  # narrower than a strip pulled lengthwise by this share, hinges hold in full (judgement)


@dataclass(frozen=True, slots=True, eq=False)
class Hinges:
    """Inner sides of a sheet, each with the two triangles that meet there.

    Attributes
    ----------
    nodes : (H, 4) int32, the two ends, and the corner opposite in either triangle
    weights : (H, 4) float64, 1/mm; their sum over the nodes' places is the jump of the deformation gradient
    area_mm2 : (H,) float64, a third of both triangles
    sides : (H, 2) int32, the two triangles
    """

    nodes: NDArray[np.int32]
    weights: NDArray[np.float64]
    area_mm2: NDArray[np.float64]
    sides: NDArray[np.int32]

    def among(self, triangles: NDArray[np.int64], number: NDArray[np.int32], count: int) -> "Hinges":
        """Those between some of the triangles.

        Parameters
        ----------
        triangles : (t,) int64, the triangles kept, in their new order
        number : (N,) int32, new numbers of the nodes
        count : number of all triangles

        Returns
        -------
        Hinges
        """
        place = np.full(count, -1, np.int32)
        place[triangles] = np.arange(len(triangles), dtype=np.int32)
        kept = _between(self.sides, place)
        return Hinges(
            number[self.nodes[kept]], self.weights[kept], self.area_mm2[kept], place[self.sides[kept]]
        )


@kernel
def _between(sides, place):  # type: ignore[no-untyped-def]
    """Hinges both of whose triangles have a place."""
    found = np.empty(sides.shape[0], np.int64)
    count = 0
    for h in range(sides.shape[0]):
        if place[sides[h, 0]] >= 0 and place[sides[h, 1]] >= 0:
            found[count] = h
            count += 1
    return found[:count]


def hinges_of(
    triangles: NDArray[np.int32], inverse: NDArray[np.float64], area_mm2: NDArray[np.float64]
) -> Hinges:
    """The hinges of a stress-free sheet.

    Parameters
    ----------
    triangles : (T, 3) int32
    inverse : (T, 4) float64, as in `membrane.Reference`
    area_mm2 : (T,) float64

    Returns
    -------
    Hinges
    """
    table = edge_table(triangles)
    inner = np.flatnonzero(table.face_count == 2)
    count = len(inner)
    nodes, weights = np.empty((count, 4), np.int32), np.zeros((count, 4))
    nodes[:, :2] = table.edges[inner]
    area, sides = np.empty(count), np.empty((count, 2), np.int32)
    halves = table.half_edges, table.start[inner]
    _fill(triangles, inverse, area_mm2, *halves, nodes, weights, area, sides)
    return Hinges(nodes, weights, area, sides)


@kernel
def _fill(triangles, inverse, area, half_edges, start, nodes, weights, areas, sides):  # type: ignore[no-untyped-def]
    for h in range(nodes.shape[0]):
        areas[h] = 0.0
        for n in range(2):
            half = half_edges[start[h] + n]
            t, far = half // 3, (half % 3 + 2) % 3  # half-edge k runs from corner k to the next
            a, b, d, e = inverse[t, 0], inverse[t, 1], inverse[t, 2], inverse[t, 3]
            slope = ((-a - d, -b - e), (a, b), (d, e))
            length = np.sqrt(slope[far][0] ** 2 + slope[far][1] ** 2)
            sides[h, n], nodes[h, 2 + n] = t, triangles[t, far]
            areas[h] += area[t] / 3.0
            for m in range(3):
                # how much the corner adds to the derivative outwards, across the side
                adds = -(slope[m][0] * slope[far][0] + slope[m][1] * slope[far][1]) / length
                for place in (0, 1, 2 + n):
                    if triangles[t, m] == nodes[h, place]:
                        weights[h, place] += adds


@kernel
def slackness(large, small):  # type: ignore[no-untyped-def]
    """From 0, taut, to 1, clearly narrower than a strip pulled lengthwise; of the squared stretches."""
    narrow = 1.0 - np.sqrt(small * np.sqrt(max(large, 1.0)))
    return min(max(narrow / _ALL_SLACK, 0.0), 1.0)


@kernel
def _hinge_forces(x, slack, nodes, weights, area, sides, force):  # type: ignore[no-untyped-def]
    for h in range(nodes.shape[0]):
        held = max(slack[sides[h, 0]], slack[sides[h, 1]])
        if held == 0.0:
            continue
        for axis in range(3):
            jump = 0.0
            for m in range(4):
                jump += weights[h, m] * x[nodes[h, m], axis]
            jump *= HINGE * held * area[h]
            for m in range(4):
                force[nodes[h, m], axis] -= weights[h, m] * jump


def add_hinge_forces(
    x: NDArray[np.float64], slack: NDArray[np.float64], hinges: Hinges, force: NDArray[np.float64]
) -> None:
    """Add the forces of the hinges beside slack triangles.

    Parameters
    ----------
    x : (N, 3) float64, mm
    slack : (T,) float64, slackness of each triangle, taken as given
    hinges : of the sheet
    force : (N, 3) float64, in modulus x thickness x mm, changed in place
    """
    if slack.any():
        _hinge_forces(x, slack, hinges.nodes, hinges.weights, hinges.area_mm2, hinges.sides, force)
