"""Air that the sheet traps: regions that lose their way to the platen before the sheet touches them.

Air flows between sheet and buck over nodes that are not touched yet. Of all paths from a node to the platen
or to a vent, the one whose earliest contact is latest stays open longest (widest path); when that contact
comes, air is trapped at the node. The regions are the branches of the merge tree of the time of contact.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.air_paths import triangle_over
from buckwright.forming.forecast.formed import LANDED, Formed
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.node_graph import hanging_together, neighbours_of, triangles_at
from buckwright.kernel import kernel
from buckwright.mesh.adjacency import edge_table

__all__ = ["TrappedAir", "find_trapped_air", "merge_tree"]

_LEAST_NODES = 7  # a node and its neighbours; smaller regions cannot be told from the roughness of the mesh
_DOUBT = 0.25  # the last touched node of a pocket has a gap of at least this share of the greatest


@dataclass(frozen=True, slots=True)
class TrappedAir:
    """One place that was shut in.

    Attributes
    ----------
    last_touched_mm : (3,) on the buck: where the sheet arrives last, the place for its vent
    sealed_step : step at which it closed
    sealed_share : the same as a share of all steps, 0 to 1
    volume_mm3, area_mm2 : of the air, at the moment of sealing
    depth_mm : largest gap at that moment, across the ground below it
    left_mm : gap that remains at the end
    nodes : number of nodes of the sheet over it
    region : (nodes,) int64, those nodes
    """

    last_touched_mm: tuple[float, float, float]
    sealed_step: float
    sealed_share: float
    volume_mm3: float
    depth_mm: float
    area_mm2: float
    left_mm: float
    nodes: int
    region: NDArray[np.int64] = field(repr=False, compare=False)

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes without step and region
        """
        return {
            "last_touched_mm": list(self.last_touched_mm),
            "sealed_share": self.sealed_share,
            "volume_mm3": self.volume_mm3,
            "depth_mm": self.depth_mm,
            "area_mm2": self.area_mm2,
            "left_mm": self.left_mm,
            "nodes": self.nodes,
        }


@kernel
def _merge(order, time, begin, neighbours, open_air, parent, birth, drained, died):  # type: ignore[no-untyped-def]
    """Add nodes from the last touched on; a branch dies where it meets open air or an elder branch."""
    seen = np.zeros(order.shape[0], np.bool_)
    for v in order:
        seen[v] = True
        parent[v], birth[v], drained[v] = v, v, open_air[v]
        root = v
        for e in range(begin[v], begin[v + 1]):
            w = neighbours[e]
            if not seen[w]:
                continue
            while parent[w] != w:
                parent[w] = parent[parent[w]]
                w = parent[w]
            if w == root:
                continue
            # the branch without open air dies; of two alike, the one that is touched earlier
            if drained[root] != drained[w]:
                loser = w if drained[root] else root
            else:
                loser = w if time[birth[w]] <= time[birth[root]] else root
            winner = root if loser == w else w
            if not drained[loser]:
                died[birth[loser]] = time[v]
            parent[loser] = winner
            root = winner


def merge_tree(
    time: NDArray[np.float64], ends: NDArray[np.int32], open_air: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Time at which the region around each locally last-touched node lost its way out.

    Parameters
    ----------
    time : (N,) float64, finite, when each node is touched
    ends : (E, 2) int32, neighbours
    open_air : (N,) bool, nodes from which air can leave until they are touched

    Returns
    -------
    (N,) float64; nan at all other nodes

    Notes
    -----
    Elder rule: where two regions part, the one that is touched later survives. A vent at the last touched
    point of a region drains it and leaves the younger branches, each with its own time, so the list is also
    the list of further vents. N log N.
    """
    count = len(time)
    begin, neighbours = neighbours_of(ends, count)
    parent, birth = np.zeros(count, np.int64), np.zeros(count, np.int64)
    drained, died = np.zeros(count, np.bool_), np.full(count, np.nan)
    order = np.argsort(-time, kind="stable")
    _merge(order, time, begin, neighbours, open_air, parent, birth, drained, died)
    return died


def find_trapped_air(
    formed: Formed,
    triangles: NDArray[np.int32],
    ground: LandingSurface,
    *,
    least_depth_mm: float,
    least_mm3: float = 0.0,
    foot_mm: float = 0.0,
    vents_mm: NDArray[np.float64] | None = None,
) -> tuple[TrappedAir, ...]:
    """All places that were shut in with a gap of at least `least_depth_mm`, the largest volume first.

    Parameters
    ----------
    formed, triangles, ground : the run, the sheet and what it fell on
    least_depth_mm : gap at sealing from which a place counts: the persistence of its branch, in mm
    least_mm3 : volume at sealing from which a place counts
    foot_mm : ground up to this height over the platen lets air out, as the base has vents there
    vents_mm : (V, 2 or more) float64, mm, where else air leaves: until the sheet has sealed a vent all round

    Returns
    -------
    tuple of ContactPocket : largest volume first

    Notes
    -----
    The volume is that of the sheet at the moment of sealing (linear between two snapshots of the run). Air is
    taken to vanish afterwards; what would stay trapped without a vent shows in `left_mm` only after a run
    with `vents_mm`.
    """
    x = formed.points
    gap = np.maximum(x[:, 2] - ground.at(x), 0.0) * ground.levelness(x)
    never = ~np.isfinite(formed.touched)
    steps = len(formed.pressure_per_mm)
    time = np.where(never, steps + gap / max(float(gap.max(initial=0.0)), 1e-12), formed.touched)
    low = ground.at(x) <= ground.platen_mm + foot_mm + 1e-9
    open_air = (~ground.has_buck(x) | low) | (formed.state == 1)
    ends = edge_table(triangles).edges
    if vents_mm is not None and len(vents_mm):
        over = triangle_over(np.asarray(vents_mm, np.float64)[:, :2], x, triangles)
        for corners in triangles[over[over >= 0]]:
            time[corners] = time[corners].max()  # open until the last corner of the triangle has come down
            open_air[corners] = True
    died = merge_tree(time, ends, open_air)
    branches = np.flatnonzero(np.isfinite(died) & (time - died > 1e-9))
    branches = branches[_gap_then(branches, died, formed, ground) > _DOUBT * least_depth_mm]
    net = *neighbours_of(ends, len(time)), triangles, *triangles_at(triangles, len(time))
    found = []
    for node in branches[np.argsort(died[branches], kind="stable")]:
        pocket = _pocket(int(node), float(died[node]), time, net, formed, ground, least_depth_mm, gap)
        if pocket is not None and pocket.volume_mm3 >= least_mm3:
            found.append(pocket)
    return tuple(sorted(found, key=lambda pocket: (-pocket.volume_mm3, pocket.last_touched_mm)))


def _gap_then(
    nodes: NDArray[np.int64], step: NDArray[np.float64], formed: Formed, ground: LandingSurface
) -> NDArray[np.float64]:
    """Gap below nodes in the last snapshot before their branch died: cheaply tells noise from pockets."""
    picture = np.clip(np.searchsorted(formed.snapshot_steps, step[nodes], side="right") - 1, 0, None)
    then = formed.snapshots[picture, nodes].astype(np.float64)
    return np.asarray((then[:, 2] - ground.at(then)) * ground.levelness(then))


def _pocket(
    node: int,
    sealed: float,
    time: NDArray[np.float64],
    net: tuple[NDArray[Any], ...],
    formed: Formed,
    ground: LandingSurface,
    least_depth_mm: float,
    gap: NDArray[np.float64],
) -> TrappedAir | None:
    region = hanging_together(node, time > sealed, *net[:2])
    if len(region) < _LEAST_NODES:
        return None
    first, second, share = _pictures_around(formed, sealed)
    then = (1.0 - share) * first[region].astype(np.float64) + share * second[region]
    height = np.maximum(then[:, 2] - ground.at(then), 0.0)
    depth = float((height * ground.levelness(then)).max())
    if depth < least_depth_mm:
        return None
    plan = np.zeros(len(region))
    _plan(region, *net[2:], first, second, share, plan)
    x, y = formed.points[node, :2].tolist()
    return TrappedAir(
        last_touched_mm=(x, y, float(ground.at(formed.points[node : node + 1])[0])),
        sealed_step=sealed,
        sealed_share=min(sealed / len(formed.pressure_per_mm), 1.0),
        volume_mm3=float((plan * height).sum()),
        depth_mm=depth,
        area_mm2=float(plan.sum()),
        left_mm=float(gap[region][formed.state[region] != LANDED].max(initial=0.0)),
        nodes=len(region),
        region=region,
    )


def _pictures_around(formed: Formed, step: float) -> tuple[NDArray[np.float32], NDArray[np.float32], float]:
    """The two snapshots around a step, and how far it lies from the first to the second."""
    steps = formed.snapshot_steps
    after = int(np.clip(np.searchsorted(steps, step), 1, len(steps) - 1))
    before = after - 1
    share = float(np.clip((step - steps[before]) / max(steps[after] - steps[before], 1), 0.0, 1.0))
    return formed.snapshots[before], formed.snapshots[after], share


@kernel
def _plan(nodes, triangles, begin, at, first, second, share, out):  # type: ignore[no-untyped-def]
    """A third of the plan area of the triangles at each node, between two snapshots."""
    corner = np.zeros((3, 2))
    for n in range(nodes.shape[0]):
        for e in range(begin[nodes[n]], begin[nodes[n] + 1]):
            for k in range(3):
                v = triangles[at[e], k]
                for axis in range(2):
                    corner[k, axis] = (1.0 - share) * first[v, axis] + share * second[v, axis]
            ux, uy = corner[1, 0] - corner[0, 0], corner[1, 1] - corner[0, 1]
            vx, vy = corner[2, 0] - corner[0, 0], corner[2, 1] - corner[0, 1]
            out[n] += max(ux * vy - uy * vx, 0.0) / 6.0
