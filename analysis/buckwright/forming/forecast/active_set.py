"""Active set: free nodes, their triangles and the boundary nodes.

As the sheet lands, the set shrinks to the fillets in the corners, and the work of a step with it.
"""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Law, Reference, forces, overdrawn, turned_over

__all__ = ["ActiveSet"]


class ActiveSet:
    """A renumbered copy of what still moves: the free nodes in rising order, then the boundary nodes.

    Attributes
    ----------
    nodes : (n,) int64, numbers of the free nodes in the whole sheet; near (m,) with the boundary nodes
    listed : (t,) int64, numbers of the triangles
    x : (m, 3) float64, mm; moving: the first n rows
    live : (n,) bool, nodes that are still free; the others have come to rest since
    """

    def __init__(self, x: NDArray[np.float64], free: NDArray[np.bool_], ref: Reference) -> None:
        self.nodes = np.flatnonzero(free)
        self.listed = np.flatnonzero(free[ref.triangles].any(1))
        corners = ref.triangles[self.listed]
        held = np.zeros(len(x), np.bool_)
        held[corners] = True
        held[self.nodes] = False
        self.near = np.concatenate([self.nodes, np.flatnonzero(held)])
        number = np.full(len(x), -1, np.int32)
        number[self.near] = np.arange(len(self.near), dtype=np.int32)
        self.ref = Reference(
            number[corners],
            ref.inverse[self.listed],
            ref.area_mm2[self.listed],
            ref.weight[self.listed],
            ref.strength[self.listed],
            ref.hinges.among(self.listed, number, len(ref.triangles)),
        )
        self.x = x[self.near]
        self.moving = self.x[: len(self.nodes)]
        self.live = np.ones(len(self.nodes), np.bool_)
        self._free = np.arange(len(self.near)) < len(self.nodes)

    def forces(self, law: Law, pressed: NDArray[np.bool_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Elastic force and force of a unit pressure at the free nodes.

        Parameters
        ----------
        law : of the sheet
        pressed : (T,) bool, triangles of the whole sheet that bear pressure

        Returns
        -------
        (n, 3) float64, (n, 3) float64 : in units of modulus x thickness x mm, and mm2; 0 at nodes at rest
        """
        pull, push = forces(self.x, self.ref, law, pressed[self.listed])[:, : len(self.nodes)]
        stand = ~self.live
        pull[stand] = push[stand] = 0.0
        return pull, push

    def land(
        self, ground: LandingSurface, by: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Move the live nodes; those that would pass below the ground land on it.

        Parameters
        ----------
        ground : buck and platen
        by : (n, 3) float64, mm

        Returns
        -------
        (k,) int64, (k,) float64 : places 0..n of the nodes that land, and the share of the way that each went
        """
        share = ground.land(self.moving, by, self.live)
        landed = np.flatnonzero(np.isfinite(share))
        return self.stand(landed), share[landed]

    def stand(self, places: NDArray[np.int64]) -> NDArray[np.int64]:
        """Mark nodes as at rest.

        Parameters
        ----------
        places : (k,) int64, 0..n

        Returns
        -------
        (k,) int64 : `places` itself
        """
        self.live[places] = False
        self._free[places] = False
        return places

    def turned_over(self, least: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Find triangles that have turned over, and bring their nodes to rest.

        Parameters
        ----------
        least : height of the unit normal below which a triangle counts as turned over, < 0

        Returns
        -------
        (t',) int64, (k,) int64 : triangles of the whole sheet, and places 0..n of the nodes that come to rest
        """
        return self._frozen(turned_over(self.x, self.ref, self._free, least=least))

    def overdrawn(self, most: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Find triangles thinner than 1 / `most` of the sheet, and bring their nodes to rest.

        Parameters
        ----------
        most : thickness before forming over the least one, > 1

        Returns
        -------
        (t',) int64, (k,) int64 : triangles of the whole sheet, and places 0..n of the nodes that come to rest
        """
        return self._frozen(overdrawn(self.x, self.ref, self._free, most=most))

    def _frozen(self, found: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        if not len(found):
            return found, found
        places = np.unique(self.ref.triangles[found]).astype(np.int64)
        return self.listed[found], self.stand(places[self._free[places]])
