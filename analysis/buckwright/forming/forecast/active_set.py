"""Active set: free nodes, their triangles and the boundary nodes.

As the sheet lands, the set shrinks to the fillets in the corners, and the work of a step with it.
"""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Law, Reference, forces, spoilt
from buckwright.forming.forecast.node_graph import with_any

__all__ = ["ActiveSet"]


class ActiveSet:
    """A renumbered copy of what still moves: the free nodes in rising order, then the boundary nodes.

    Parameters
    ----------
    x : (N, 3) float64, mm, the whole sheet
    free : (N,) bool
    ref : the whole stress-free sheet
    within : a larger set, which holds all that is free; looking through it alone is faster

    Attributes
    ----------
    nodes : (n,) int64, numbers of the free nodes in the whole sheet; near (m,) with the boundary nodes
    listed : (t,) int64, numbers of the triangles; among (t,) int64, their numbers in the larger set
    x : (m, 3) float64, mm; moving: the first n rows
    live : (n,) bool, nodes that are still free; the others have come to rest since
    """

    def __init__(
        self,
        x: NDArray[np.float64],
        free: NDArray[np.bool_],
        ref: Reference,
        *,
        within: "ActiveSet | None" = None,
    ) -> None:
        if within is not None:
            free, ref = free[within.near], within.ref
        self.among = with_any(ref.triangles, free)
        corners = ref.triangles[self.among]
        held = np.zeros(len(free), np.bool_)
        held[corners] = True
        held[free] = False
        near = np.concatenate([np.flatnonzero(free), np.flatnonzero(held)])
        number = np.full(len(free), -1, np.int32)
        number[near] = np.arange(len(near), dtype=np.int32)
        self.ref: Reference = Reference(
            number[corners],
            ref.inverse[self.among],
            ref.area_mm2[self.among],
            ref.weight[self.among],
            ref.strength[self.among],
            ref.hinges.among(self.among, number, len(ref.triangles)),
        )
        self.near: NDArray[np.int64] = near if within is None else within.near[near]
        self.listed: NDArray[np.int64] = self.among if within is None else within.listed[self.among]
        count = int(np.count_nonzero(free))
        self.nodes = self.near[:count]
        self.x = x[self.near]
        self.moving = self.x[:count]
        self.live = np.ones(count, np.bool_)
        self._free = np.arange(len(near)) < count

    def holds(self, count: int, free: NDArray[np.bool_]) -> bool:
        """Whether all that is free now, `count` nodes, was free when the set was made."""
        return int(np.count_nonzero(free[self.nodes])) == count

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

    def spoilt(
        self, *, least: float, most: float
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
        """Find triangles that have turned over or are drawn too far, and bring their nodes to rest.

        Parameters
        ----------
        least : height of the unit normal below which a triangle counts as turned over, < 0
        most : thickness before forming over the least one, > 1

        Returns
        -------
        (t',) int64, (k,) int64, (l,) int64 : triangles of the whole sheet that have turned over, places 0..n
        of the nodes that come to rest in them, and of those that do so in overdrawn ones
        """
        turned, thin = spoilt(self.x, self.ref, self._free, least=least, most=most)
        return self.listed[turned], self._frozen(turned), self._frozen(thin)

    def _frozen(self, found: NDArray[np.int64]) -> NDArray[np.int64]:
        if not len(found):
            return found
        places = np.unique(self.ref.triangles[found]).astype(np.int64)
        return self.stand(places[self._free[places]])
