"""Grooves on the underside that connect every vent to the edge of the base or to the platen's holes."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold, OpType
from numpy.typing import NDArray
from scipy import sparse, spatial
from scipy.sparse import csgraph

from buckwright.errors import JobError
from buckwright.findings import counted
from buckwright.shape.loft import grown

__all__ = ["ChannelPlan", "channel_outline", "channel_tools", "connected", "nearest_on", "plan_channels"]

BELOW_MM = 1.3
"""How far the tools start below the platen; not the drills' depth, so that no two floors coincide."""
COLLAR_MM = 0.3
"""Ring of groove around each bore, so that the walls of groove and bore never touch tangentially."""
SEGMENTS = 24
"""Sides of a groove's round end."""
FAR_MM = np.array([1e5, 0.37e5])
"""A step that certainly ends outside any footprint."""
WAYPOINTS = 12
"""Points around each keep-out where a groove may turn; a 12-gon hugs the circle to 4 %."""


@dataclass(frozen=True, slots=True, eq=False)
class ChannelPlan:
    """A network of grooves.

    Attributes
    ----------
    nodes : (N, 2) float64, mm; the vents first, then turns and exits
    links : (M, 2) int, pairs of nodes joined by a groove
    exits : (N,) bool, nodes that lie outside the footprint or over a hole of the platen
    vents : how many of the nodes are vents
    width_mm, depth_mm : of a groove
    collars_mm : (vents,) float64, diameter of the widening around each vent
    holes : how many holes of the platen the grooves lead to
    notes : plain words
    """

    nodes: NDArray[np.float64]
    links: NDArray[np.int64]
    exits: NDArray[np.bool_]
    vents: int
    width_mm: float
    depth_mm: float
    collars_mm: NDArray[np.float64]
    notes: tuple[str, ...]
    holes: int = 0

    @property
    def length_mm(self) -> float:
        """Total length of the grooves."""
        ends = self.nodes[self.links]
        return float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : sizes, length and the numbers of exits and connected vents
        """
        return {
            "width_mm": self.width_mm,
            "depth_mm": self.depth_mm,
            "length_mm": round(self.length_mm, 2),
            "platen_holes": self.holes,
            "exits": int(self.exits[np.unique(self.links)].sum()) if len(self.links) else 0,
            "joined_vents": int(connected(self).sum()),
            "notes": list(self.notes),
        }


def plan_channels(
    vents: NDArray[np.float64],
    underside: CrossSection,
    *,
    bores_mm: NDArray[np.float64] | None = None,
    keep_out: NDArray[np.float64] | None = None,
    platen_holes: NDArray[np.float64] | None = None,
    width_mm: float = 4.0,
    depth_mm: float = 2.5,
    wall_mm: float = 1.6,
) -> ChannelPlan:
    """Connect all vents to an exit with little groove.

    Parameters
    ----------
    vents : (N, 2) float64, mm
        Axes of the vents.
    underside : CrossSection, mm
        What stands on the platen.
    bores_mm : (N,) float64, optional
        Diameter of each vent at the underside.
    keep_out : (K, 3) float64, optional
        Circles x, y, radius that grooves must stay clear of by `wall_mm` (fixing holes).
    platen_holes : (H, 2) float64, mm, optional
        Holes of the platen; those well inside the footprint are exits too.
    width_mm, depth_mm : float, 0.2..50
        5..8 wide and 3..5 deep are given for large bucks, from memory; the defaults are for small ones.
    wall_mm : float, 0.2..50

    Returns
    -------
    ChannelPlan : without grooves where there are no vents; its notes name vents that are cut off

    Raises
    ------
    JobError
        A size out of range.

    Notes
    -----
    Graph of vents, turning points around keep-outs and along the inset outline, and an exit beside each of
    them; links are Delaunay edges that stay inside and clear. The tree is the usual approximation of a
    Steiner tree by shortest paths (L. Kou, G. Markowsky, L. Berman, Acta Informatica 15, 1981), with the
    outside as one more terminal, so that a vent near the edge gets its own way out.
    """
    _check_sizes(width_mm, depth_mm, wall_mm)
    spots = np.asarray(vents, dtype=np.float64).reshape(-1, 2)
    circles = np.zeros((0, 3)) if keep_out is None else np.asarray(keep_out, dtype=np.float64).reshape(-1, 3)
    bores = np.zeros(len(spots)) if bores_mm is None else np.asarray(bores_mm, dtype=np.float64)
    collars = np.maximum(bores, min(width_mm, 2.0)) + 2 * COLLAR_MM
    clear = circles + np.array([0, 0, wall_mm + width_mm / 2])
    inset = grown(underside, -(width_mm / 2 + wall_mm)).simplify(0.05)
    if not len(spots):
        empty = np.zeros((0, 2), np.int64)
        return ChannelPlan(spots, empty, np.zeros(0, np.bool_), 0, width_mm, depth_mm, collars, ())
    turns = np.concatenate([spots, _turning_points(clear, inset)])
    holes = _holes_inside(platen_holes, inset, clear)
    nodes = np.concatenate([turns, holes])
    inner = _inner_links(nodes, inset, clear)
    outside, ways_out = _ways_out(nodes, underside, clear, width_mm)
    links = _tree(nodes, inner, len(spots), ways_out, np.arange(len(turns), len(nodes)))
    every = np.concatenate([nodes, outside])
    exits = np.zeros(len(every), np.bool_)
    exits[len(turns) :] = True
    plan = _finished(every, links, exits, len(spots), width_mm, depth_mm, collars)
    reached = np.unique(links)
    return replace(plan, holes=int(((reached >= len(turns)) & (reached < len(nodes))).sum()))


def connected(plan: ChannelPlan) -> NDArray[np.bool_]:
    """Whether each vent reaches an exit along the grooves; checked on the finished plan alone.

    Parameters
    ----------
    plan : from `plan_channels`

    Returns
    -------
    (vents,) bool
    """
    count = len(plan.nodes)
    joined = sparse.coo_array((np.ones(len(plan.links)), plan.links.T), shape=(count, count))
    _, label = csgraph.connected_components(joined, directed=False)
    good: NDArray[np.bool_] = np.isin(label[: plan.vents], label[plan.exits])
    return good


def channel_outline(plan: ChannelPlan) -> CrossSection:
    """What the grooves cover on the underside, exits reaching out beyond its edge.

    Parameters
    ----------
    plan : from `plan_channels`

    Returns
    -------
    CrossSection : mm; empty without grooves
    """
    radius = plan.width_mm / 2
    dot = CrossSection.circle(radius, SEGMENTS)
    parts = []
    for a, b in plan.nodes[plan.links]:
        parts.append(CrossSection.batch_hull([dot.translate(tuple(a)), dot.translate(tuple(b))]))
    used = np.unique(plan.links)
    for i in used[used < plan.vents]:
        collar = CrossSection.circle(float(plan.collars_mm[i]) / 2, SEGMENTS)
        parts.append(collar.translate(tuple(plan.nodes[i])))
    return CrossSection.batch_boolean(parts, OpType.Add).simplify(0.001) if parts else CrossSection()


def channel_tools(plan: ChannelPlan) -> list[Manifold]:
    """The grooves as one tool to subtract, or none.

    Parameters
    ----------
    plan : from `plan_channels`

    Returns
    -------
    list of Manifold : one or none, mm
    """
    outline = channel_outline(plan)
    if outline.is_empty():
        return []
    return [outline.extrude(plan.depth_mm + BELOW_MM).translate((0.0, 0.0, -BELOW_MM))]


def _check_sizes(width_mm: float, depth_mm: float, wall_mm: float) -> None:
    for name, value in {"width": width_mm, "depth": depth_mm, "wall": wall_mm}.items():
        if not 0.2 <= value <= 50:
            raise JobError(f"channels need a {name} of 0.2..50 mm, got {value:g}")


def _turning_points(clear: NDArray[np.float64], inset: CrossSection) -> NDArray[np.float64]:
    """Corners of the inset outline and polygons around the keep-outs, all just inside the allowed ground."""
    angle = 2 * np.pi * np.arange(WAYPOINTS) / WAYPOINTS
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) / np.cos(np.pi / WAYPOINTS) * 1.02
    round_holes = (clear[:, None, :2] + clear[:, None, 2:] * ring).reshape(-1, 2)
    # A millimetre of slack keeps few corners; they only serve as turning points.
    corners = [polygon for polygon in grown(inset, -0.5).simplify(1.0).to_polygons() if len(polygon)]
    return np.concatenate([round_holes, *corners])


def _holes_inside(
    holes: NDArray[np.float64] | None, inset: CrossSection, clear: NDArray[np.float64]
) -> NDArray[np.float64]:
    if holes is None or not len(holes):
        return np.zeros((0, 2))
    spots = np.asarray(holes, dtype=np.float64).reshape(-1, 2)
    inside = np.zeros(len(spots), np.bool_)
    for polygon in inset.to_polygons():
        inside ^= _crossed(spots, spots + FAR_MM, polygon) % 2 == 1
    return spots[inside & ~_blocked(spots, spots, clear)]


def _inner_links(
    nodes: NDArray[np.float64], inset: CrossSection, clear: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Delaunay edges that neither leave the inset outline nor touch a keep-out."""
    if len(nodes) < 4:
        pairs = np.array([(i, j) for i in range(len(nodes)) for j in range(i)], np.int64).reshape(-1, 2)
    else:
        corners = spatial.Delaunay(nodes, qhull_options="QJ Pp").simplices.astype(np.int64)
        pairs = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
        pairs = np.unique(np.sort(pairs, axis=1), axis=0)
    start, end = nodes[pairs[:, 0]], nodes[pairs[:, 1]]
    good = ~_blocked(start, end, clear)
    for polygon in inset.to_polygons():
        good &= _crossed(start, end, polygon) == 0
    return pairs[good]


def _ways_out(
    nodes: NDArray[np.float64], underside: CrossSection, clear: NDArray[np.float64], width_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Straight way out from every node: a point beyond the nearest edge, and its length (inf: blocked)."""
    foot, best = nearest_on(nodes, underside)
    direction = (foot - nodes) / np.maximum(best, 1e-9)[:, None]
    outside = foot + direction * (width_mm + 1.0)
    barred = _blocked(nodes, outside, clear)
    for polygon in underside.to_polygons():
        barred |= _crossed(nodes, outside, polygon) > 1
    return outside, np.where(barred, np.inf, best)


def _tree(
    nodes: NDArray[np.float64],
    inner: NDArray[np.int64],
    vents: int,
    ways_out: NDArray[np.float64],
    holes: NDArray[np.int64],
) -> NDArray[np.int64]:
    """Links of the approximate Steiner tree; node `len(nodes) + i` is the exit beside node i."""
    count, sky = len(nodes), len(nodes)
    lengths = np.linalg.norm(nodes[inner[:, 0]] - nodes[inner[:, 1]], axis=1)
    free = np.flatnonzero(np.isfinite(ways_out))
    out_length = ways_out[free]
    at_hole = np.isin(free, holes)
    out_length[at_hole] = 0.0
    rows = np.concatenate([inner[:, 0], free])
    columns = np.concatenate([inner[:, 1], np.full(len(free), sky)])
    weights = np.concatenate([lengths, out_length]) + 1e-6
    graph = sparse.csr_array((weights, (rows, columns)), shape=(count + 1, count + 1))
    terminals = np.append(np.arange(vents), sky)
    far, back = csgraph.dijkstra(graph, directed=False, indices=terminals, return_predecessors=True)
    between = np.where(np.isfinite(far[:, terminals]), far[:, terminals], 0.0)
    tree = csgraph.minimum_spanning_tree(sparse.csr_array(between)).tocoo()
    used: set[tuple[int, int]] = set()
    for i, j in zip(tree.coords[0], tree.coords[1]):
        node = int(terminals[j])
        while node != terminals[i]:
            before = int(back[i, node])
            used.add((min(before, node), max(before, node)))
            node = before
    links: NDArray[np.int64] = np.array(sorted(used), np.int64).reshape(-1, 2)
    links = links[~((links[:, 1] == sky) & np.isin(links[:, 0], holes))]
    last = links[:, 1] == sky
    links[last, 1] += links[last, 0]
    return links


def _finished(
    nodes: NDArray[np.float64],
    links: NDArray[np.int64],
    exits: NDArray[np.bool_],
    vents: int,
    width_mm: float,
    depth_mm: float,
    collars: NDArray[np.float64],
) -> ChannelPlan:
    """Keep only nodes in use (all vents stay) and report which vents are cut off."""
    kept = np.union1d(np.arange(vents), links)
    renumbered = np.searchsorted(kept, links).reshape(-1, 2)
    plan = ChannelPlan(nodes[kept], renumbered, exits[kept], vents, width_mm, depth_mm, collars, ())
    lost = int(np.count_nonzero(~connected(plan)))
    if not lost:
        return plan
    words = (
        f"{counted(lost, 'vent')} cannot be reached by a channel: "
        "move the fixings or make the channels narrower"
    )
    return ChannelPlan(plan.nodes, renumbered, plan.exits, vents, width_mm, depth_mm, collars, (words,))


def _blocked(
    start: NDArray[np.float64], end: NDArray[np.float64], clear: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether each segment comes closer to a circle's centre than its radius, (N,) bool."""
    blocked = np.zeros(len(start), np.bool_)
    along = end - start
    squared = np.maximum((along**2).sum(1), 1e-18)
    for x, y, radius in clear:
        share = np.clip((([x, y] - start) * along).sum(1) / squared, 0, 1)
        blocked |= np.linalg.norm(start + share[:, None] * along - [x, y], axis=1) < radius
    return blocked


def _crossed(
    start: NDArray[np.float64], end: NDArray[np.float64], polygon: NDArray[np.float64]
) -> NDArray[np.int64]:
    """How many sides of the polygon each segment crosses, (N,) int."""
    p, q = polygon, np.roll(polygon, -1, axis=0)

    def side(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> NDArray[np.float64]:
        turn: NDArray[np.float64] = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (
            b[..., 1] - a[..., 1]
        ) * (c[..., 0] - a[..., 0])
        return turn

    s, e = start[:, None], end[:, None]
    apart = (side(s, e, p[None]) > 0) != (side(s, e, q[None]) > 0)
    across = (side(p[None], q[None], s) > 0) != (side(p[None], q[None], e) > 0)
    crossings: NDArray[np.int64] = np.count_nonzero(apart & across, axis=1)
    return crossings


def nearest_on(
    points: NDArray[np.float64], outline: CrossSection
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Nearest point of an outline to each point, and its distance.

    Parameters
    ----------
    points : (N, 2) float64, mm
    outline : CrossSection, mm

    Returns
    -------
    (N, 2) float64, (N,) float64 : the nearest points, and how far they are; infinite without an outline
    """
    foot, best = np.zeros_like(points), np.full(len(points), np.inf)
    for polygon in outline.to_polygons():
        point, far = _nearest_on_ring(points, polygon)
        closer = far < best
        foot[closer], best[closer] = point[closer], far[closer]
    return foot, best


def _nearest_on_ring(
    points: NDArray[np.float64], polygon: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Nearest point of a closed polygon to each point, and its distance."""
    a = polygon[None]
    along = np.roll(polygon, -1, axis=0)[None] - a
    share = ((points[:, None] - a) * along).sum(-1) / np.maximum((along**2).sum(-1), 1e-18)
    foot = a + np.clip(share, 0, 1)[..., None] * along
    far = np.linalg.norm(points[:, None] - foot, axis=-1)
    best = far.argmin(1)
    rows = np.arange(len(points))
    return foot[rows, best], far[rows, best]
