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
        kept = (place[self.sides] >= 0).all(1)
        return Hinges(
            number[self.nodes[kept]], self.weights[kept], self.area_mm2[kept], place[self.sides[kept]]
        )


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
    a, b, d, e = inverse.T
    slope = np.stack([np.stack([-a - d, -b - e], 1), np.stack([a, b], 1), np.stack([d, e], 1)], 1)
    # across the side opposite corner k: how much each corner m adds to the derivative outwards
    outward = -slope / np.linalg.norm(slope, axis=2)[:, :, None]
    across = np.einsum("tmi,tki->tkm", slope, outward)
    table = edge_table(triangles)
    inner = np.flatnonzero(table.face_count == 2)
    halves = table.half_edges[table.start[inner][:, None] + np.arange(2)]
    sides, opposite = halves // 3, (halves % 3 + 2) % 3  # half-edge k runs from corner k to the next
    nodes = np.empty((len(inner), 4), np.int32)
    nodes[:, :2] = table.edges[inner]
    weights = np.zeros((len(inner), 4))
    for n in range(2):
        corners, adds = triangles[sides[:, n]], across[sides[:, n], opposite[:, n]]
        rows = np.arange(len(inner))
        nodes[:, 2 + n] = corners[rows, opposite[:, n]]
        weights[:, 2 + n] = adds[rows, opposite[:, n]]
        for end in range(2):
            weights[:, end] += (adds * (corners == nodes[:, end : end + 1])).sum(1)
    return Hinges(nodes, weights, area_mm2[sides].sum(1) / 3.0, sides.astype(np.int32))


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
