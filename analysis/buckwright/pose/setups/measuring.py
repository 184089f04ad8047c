"""What one pull costs and loses, at each depth to which the sculpt may be sunk."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.proxy import Proxy
from buckwright.pose.setups.quick_envelope import quick_envelope
from buckwright.pose.setups.slices import FOOT_SHARE, slices_of
from buckwright.pose.setups.standing import standing
from buckwright.pose.setups.surface_points import SurfacePoints
from buckwright.relief.columns import Columns
from buckwright.relief.raster import Relief, relief_of
from buckwright.survey.pull import frame_for

__all__ = ["Figures", "Sink", "measure"]

type Sink = float | str

# A sheet of 1 mm rounds off detail of less than this, so fill no deeper hides nothing. House rule.
_COVERED_MM = 0.3
# A face that leans by more than this against the pull is lost once it is covered; up to there, in proportion:
# a wall that only gets its draft is not lost. House rule.
_LOST_DEG = 15.0
# Beside a height and in a cleft, what lies under cones of this half angle is deeper than the room around it
# is wide. The trade prefers a height to width under 1:1 (ThermoPro thermoforming design guidelines); there
# the sheet gets thin and webs, and detail counts as lost by this share. The share is a house rule.
_HARD_DEG = 30.0
_HARD = 0.4
# So far under fill or under such a cone, as a share of the size, it counts in full whatever its lean.
_DEEP = 0.05
# Less of a hollow than this cannot be told from the coarseness of the raster.
_ROUGHLY = 0.15
# A wall that has something over it this far beside it (a share of the size) is not just under its own rim.
_BESIDE = 0.03
# Overhang that counts as trapped, sine of 0.05 degrees: turned walls are upright to much less.
_LEANING = 1e-3


@dataclass(frozen=True, slots=True)
class Figures:
    """What a pull with a depth of sinking costs and loses.

    Attributes
    ----------
    sink_mm : how much is cut off below
    height_mm : of what stands above
    footprint_mm2 : area within its outline, seen down the pull, holes included
    fill_volume_mm3 : solid that gives every wall its draft, less the sculpt
    trapped_area_mm2 : surface that the sheet cannot come straight off, before filling
    buried_area_mm2 : surface that the fill covers or the sink cuts off
    lost_share : share of all detail that the part will not show, or only where the sheet is thin
    cut_volume_mm3 : volume of the sculpt that is cut off
    foot_share : area on which it stands, holes included, as a share of its widest slice or of the footprint
    widest_mm : height of its widest slice above its lowest point, before sinking
    hollow_share : share of the cut that runs through a hollow; 0 where nothing is cut off
    """

    sink_mm: float
    height_mm: float
    footprint_mm2: float
    fill_volume_mm3: float
    trapped_area_mm2: float
    buried_area_mm2: float
    lost_share: float
    cut_volume_mm3: float
    foot_share: float
    widest_mm: float
    hollow_share: float


def measure(
    proxy: Proxy,
    direction: NDArray[np.float64],
    sinks: tuple[Sink, ...],
    *,
    draft_deg: float,
    pixels: int,
    exact: bool = False,
    rough: bool = False,
) -> list[Figures]:
    """Measure a pull.

    Parameters
    ----------
    proxy : the sculpt
    direction : (3,) unit vector in the proxy's axes
    sinks : depths to measure, mm, or 'widest', which is 0 for what is widest at its foot; what leaves nothing
        is left out
    draft_deg : wanted draft
    pixels : of the longer side of the sculpt in the raster
    exact : whether trapped points are found by exact columns instead of the raster
    rough : whether the sketch will do in place of the shade

    Returns
    -------
    One for each depth.

    Notes
    -----
    Fill is the room under an envelope of draft cones on a raster of heights, less the sculpt; it is good to
    a few per cent of the envelope. Slices come from the signed area of the surface above each height, so that
    open surfaces count as if they went down to the base.
    """
    frame = frame_for(direction)
    solid, blur = (proxy.sketch, proxy.sketch_blur_mm) if rough else (proxy.shade, proxy.blur_mm)
    stood = standing(solid, proxy.extremes, frame, draft_deg=draft_deg, pixels=pixels)
    shade, relief, envelope, pixel = stood.shade, stood.relief, stood.envelope, stood.relief.pixel_mm
    points = proxy.points if exact else proxy.few
    low, high = stood.low, stood.high
    slices = slices_of(shade, float(low[2]), float(high[2]))
    exactly = Columns(shade) if exact else None
    seen = _seen(points, frame, relief, envelope, exactly, blur=blur, size=proxy.size_mm)
    foot = _filled_foot(shade, stood.bounds, pixel, float(low[2]), float(high[2])) if exact else 0.0
    whole = float(_outlined(relief.height, -np.inf))
    found = []
    depths = [slices.widest_mm if isinstance(sink, str) else float(sink) for sink in sinks]
    for depth in dict.fromkeys(depths):
        if depth >= float(high[2] - low[2]):
            continue
        floor = float(low[2]) + depth
        flat = floor + 1e-6 * float((high - low).max())
        fall = pixel / np.tan(np.radians(draft_deg))
        room = _room(relief.height, envelope, floor, fall) * pixel * pixel
        volume = slices.volume_above(floor)
        footprint = float(_outlined(relief.height, flat))
        shares = _shares(seen, floor=floor, flat=flat, blur=blur)
        trapped, buried, lost, judged = _losses(shares, seen, points, flat=flat)
        found.append(
            Figures(
                sink_mm=depth,
                height_mm=float(high[2]) - floor,
                footprint_mm2=footprint * pixel**2,
                fill_volume_mm3=max(room - volume, 0.0),
                trapped_area_mm2=trapped * points.area_mm2,
                buried_area_mm2=buried * points.area_mm2,
                lost_share=lost / max(judged, 1e-12),
                cut_volume_mm3=max(float(slices.above[0]) - volume, 0.0),
                foot_share=max(slices.foot_share, min(foot / max(whole, 1.0), 1.0)),
                widest_mm=slices.widest_mm,
                hollow_share=_hollow(shade, relief, floor, slices.area_at(floor)) if depth > 0.0 else 0.0,
            )
        )
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """Points on the surface along a pull: height, lean (positive looks up), whether trapped, shares lost."""

    height: NDArray[np.float64]
    lean: NDArray[np.float64]
    trapped: NDArray[np.bool_]
    lost: NDArray[np.float64]
    hard: NDArray[np.float64]


def _seen(
    points: SurfacePoints,
    frame: NDArray[np.float64],
    relief: Relief,
    envelope: NDArray[np.float64],
    columns: Columns | None,
    *,
    blur: float,
    size: float,
) -> _Seen:
    """What becomes of each point if nothing is sunk."""
    places = np.ascontiguousarray(points.places @ frame.T)
    normals = points.normals @ frame.T
    lean = np.ascontiguousarray(normals[:, 2])
    away = normals[:, :2] / np.maximum(np.hypot(normals[:, 0], normals[:, 1]), 1e-12)[:, None]
    pixel, deep, steep = relief.pixel_mm, _DEEP * size, np.sin(np.radians(_LOST_DEG))
    cover = _depth_under(envelope, relief, places) * np.abs(lean) - blur
    tents = quick_envelope(relief.height, pixel_mm=pixel, draft_deg=_HARD_DEG)
    hard = _depth_under(tents, relief, places) * (np.sin(np.radians(_HARD_DEG)) / deep)
    # a wall is on its own edge in plan: what is over it is asked beside it
    beside = _depth_under(relief.height, relief, _moved(places, away, max(_BESIDE * size, 1.5 * pixel)))
    sheltered = (np.abs(lean) < steep) & (beside > _COVERED_MM + blur)
    if columns is None:
        over = _depth_under(relief.height, relief, places) * np.abs(lean) > blur + pixel / 4.0
        over |= sheltered
    else:
        reach = np.where(np.abs(lean) < steep, max(2.0 * blur, 1e-6 * size), 0.0)
        top = columns.top(_moved(places, away, reach))[0]
        sharp = np.where(np.abs(lean) < steep, 1.0, np.abs(lean))
        over = (top - places[:, 2]) * sharp > blur + 1e-6 * size
    covered = np.clip(cover / _COVERED_MM - 0.5, 0.0, 1.0) * np.minimum(np.abs(lean) / steep, 1.0)
    lost = np.maximum(np.maximum(covered, np.clip(cover / deep, 0.0, 1.0)), sheltered)
    return _Seen(places[:, 2].copy(), lean, (lean < -_LEANING) | over, lost, _HARD * np.clip(hard, 0.0, 1.0))


def _shares(seen: _Seen, *, floor: float, flat: float, blur: float) -> NDArray[np.float64]:
    """Share of each point that is buried or cut off with a sink to the floor; nan on the foot."""
    shares = np.where(seen.height > flat, seen.lost, 1.0)
    shares[(np.abs(seen.height - floor) <= _COVERED_MM + blur) & (seen.lean < -0.9)] = np.nan
    return shares


def _losses(
    shares: NDArray[np.float64], seen: _Seen, points: SurfacePoints, *, flat: float
) -> tuple[float, float, float, float]:
    """Number of points trapped and buried or cut off, weight of the lost detail and of all."""
    judged = np.isfinite(shares)
    gone = np.fmax(shares, seen.hard)
    if len(points.walls.other):
        hidden = np.where(judged, gone, 1.0)  # the foot shows nothing
        across = np.where(points.walls.other >= 0, hidden[points.walls.other], 1.0)
        gone = gone * (1.0 - points.walls.stands_for * (1.0 - across))
    held = np.count_nonzero(seen.trapped & judged & (seen.height > flat))
    detail = points.detail[judged]
    return float(held), float(shares[judged].sum()), float(gone[judged] @ detail), float(detail.sum())


def _moved(
    places: NDArray[np.float64], away: NDArray[np.float64], reach: float | NDArray[np.float64]
) -> NDArray[np.float64]:
    """Points moved in plan."""
    moved = places.copy()
    moved[:, :2] += away * np.reshape(reach, (-1, 1))
    return moved


def _filled_foot(shade: Mesh, bounds: NDArray[np.float64], pixel: float, low: float, high: float) -> float:
    """Pixels within the outline of what lies just above the lowest point: all that a rim encloses."""
    over = Mesh(shade.vertices * np.array([1.0, 1.0, -1.0]), shade.faces)
    under = relief_of(over, pixel_mm=pixel, bounds_xy=bounds).height
    return float(_outlined(under, -(low + FOOT_SHARE * (high - low))))


def _hollow(shade: Mesh, relief: Relief, z: float, area: float) -> float:
    """Share of what the outline of a slice encloses that is not sculpt."""
    marked = np.full(relief.height.shape, -np.inf)
    _draw_slice(shade.vertices, shade.faces, z, *relief.origin, relief.pixel_mm, marked)
    # the outline is drawn in the middle of its own pixels, half of which lie outside
    enclosed = float(_outlined(marked, 0.0)) - float(np.count_nonzero(marked > 0.0)) / 2.0
    share = 1.0 - max(area, 0.0) / max(enclosed * relief.pixel_mm**2, 1e-9)
    return float(np.clip((share - _ROUGHLY) / (1.0 - _ROUGHLY), 0.0, 1.0))


def _depth_under(
    cover: NDArray[np.float64], relief: Relief, places: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far each point lies under a raster of heights, mm."""
    depth = np.zeros(len(places))
    _depths(places, *relief.origin, relief.pixel_mm, cover, depth)
    return depth


@kernel
def _depths(places, ox, oy, pixel, cover, depth):  # type: ignore[no-untyped-def]
    """Bilinear height of the cover over each point, less its own."""
    rows, columns = cover.shape
    for n in range(places.shape[0]):
        u, v = (places[n, 0] - ox) / pixel - 0.5, (places[n, 1] - oy) / pixel - 0.5
        i, j = min(max(int(u), 0), columns - 2), min(max(int(v), 0), rows - 2)
        s, t = min(max(u - i, 0.0), 1.0), min(max(v - j, 0.0), 1.0)
        total, weight = 0.0, 0.0
        for k in range(4):
            dj, di = k // 2, k % 2
            z = cover[j + dj, i + di]
            share = (s if di else 1.0 - s) * (t if dj else 1.0 - t)
            if z > -np.inf:  # beside the outline some of the four are empty
                total += share * z
                weight += share
        if weight > 0.0:
            depth[n] = total / weight - places[n, 2]


@kernel
def _outlined(height, z):  # type: ignore[no-untyped-def]
    """Number of pixels within the outline of what is higher than z, holes included."""
    rows, columns = height.shape
    outside = np.zeros((rows, columns), np.bool_)
    stack = np.empty(rows * columns + 1, np.int64)
    count, reached = 0, 0
    for n in range(rows * columns):
        j, i = n // columns, n % columns
        if (j == 0 or i == 0 or j == rows - 1 or i == columns - 1) and not height[j, i] > z:
            outside[j, i] = True
            stack[count] = n
            count += 1
    while count:
        count -= 1
        reached += 1
        j, i = stack[count] // columns, stack[count] % columns
        for dj, di in ((0, 1), (0, -1), (1, 0), (-1, 0)):
            y, x = j + dj, i + di
            if 0 <= y < rows and 0 <= x < columns and not outside[y, x] and not height[y, x] > z:
                outside[y, x] = True
                stack[count] = y * columns + x
                count += 1
    return rows * columns - reached


@kernel
def _draw_slice(vertices, faces, z, ox, oy, pixel, marked):  # type: ignore[no-untyped-def]
    """Mark every pixel through which the outline of a slice runs."""
    ends = np.empty((3, 2))
    for f in range(faces.shape[0]):
        count = 0
        for k in range(3):
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            za, zb = vertices[a, 2] - z, vertices[b, 2] - z
            if (za > 0.0) != (zb > 0.0):
                share = za / (za - zb)
                for axis in range(2):
                    ends[count, axis] = vertices[a, axis] + share * (vertices[b, axis] - vertices[a, axis])
                count += 1
        if count == 2:
            x, y = (ends[0, 0] - ox) / pixel, (ends[0, 1] - oy) / pixel
            dx, dy = (ends[1, 0] - ends[0, 0]) / pixel, (ends[1, 1] - ends[0, 1]) / pixel
            steps = int(2.0 * max(abs(dx), abs(dy))) + 1
            for n in range(steps + 1):
                i, j = int(x + dx * n / steps), int(y + dy * n / steps)
                if 0 <= j < marked.shape[0] and 0 <= i < marked.shape[1]:
                    marked[j, i] = 1.0


@kernel
def _room(height, envelope, floor, fall):  # type: ignore[no-untyped-def]
    """Sum of the envelope's heights over the floor."""
    total = 0.0
    for j in range(height.shape[0]):
        for i in range(height.shape[1]):
            z = envelope[j, i]
            if z > height[j, i]:
                # cones start at the middle of a pixel, walls on average half a pixel further out
                z += 0.5 * fall * (1.0 if height[j, i] < floor else 0.0)
            if z > floor:
                total += z - floor
    return total
