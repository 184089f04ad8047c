"""How the air under the sheet gets out: pockets, the vents that drain them, and how long that takes."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.air.evacuation import ATMOSPHERE_PA, drilled_discharge, evacuation_time_s
from buckwright.forming.sheets.materials import SheetMaterial
from buckwright.job import Job
from buckwright.make.clock import Clock
from buckwright.make.standing import Standing
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.shape.base.base_plan import BasePlan
from buckwright.shape.vents.face_hole import FaceHole, face_hole
from buckwright.shape.vents.placing import FOOT, OPEN, VentPlan, VentSettings, plan_vents, ring_points
from buckwright.survey.pockets.find_pockets import Pockets, find_pockets, least_pocket_depth_mm, vent_points

if TYPE_CHECKING:
    from buckwright.forming.forecast.forecast_sheet import Forecast

__all__ = ["Aired", "air", "contact_times", "pockets_of"]

_POCKET_PIXELS = 768
# How often the spacing in a pocket that empties too slowly is halved.
_MORE_ROUNDS = 2
# A vent drains what lies within half the least spacing that bores and walls leave: house rule.
_NEAR_MM = 6.0

type _Wanted = list[tuple[int, tuple[float, float, float]]]


@dataclass(frozen=True, slots=True, eq=False)
class Aired:
    """How the air under the sheet gets out.

    Attributes
    ----------
    pockets : where the sheet seals off air
    plan : vents that were fitted
    pocket_of_vent : index of the pocket that each vent serves, -1 for the foot ring
    evacuation_s : time to empty each pocket to the target, inf where it has no vent
    """

    pockets: Pockets | None
    plan: VentPlan
    evacuation_s: tuple[float, ...]


def pockets_of(mesh: Mesh, base: BasePlan, job: Job, clock: Clock) -> Pockets:
    """Find where the sheet seals off air over a buck without vents."""
    extent = float(mesh.size[:2].max())
    return find_pockets(
        relief_of(mesh, pixel_mm=extent / _POCKET_PIXELS),
        min_depth_mm=job.vents.min_pocket_mm or least_pocket_depth_mm(job.sheet.thickness_mm),
        sharpest_radius_mm=max(job.sheet.thickness_mm, 0.25),
        foot_mm=base.flange_z_mm,
        tick=clock.tick,
    )


def _face_hole(job: Job, material: SheetMaterial) -> FaceHole:
    given = job.vents.hole_mm
    marks = material.vent_diameter_mm
    return face_hole(
        sheet_mm=job.sheet.thickness_mm if given is None else given,
        low_mm=marks.low if given is None else given,
        high_mm=marks.high if given is None else given,
        printer_min_hole_mm=job.vents.printer_min_hole_mm,
        when_small=job.vents.when_small,
    )


def air(
    pockets: Pockets | None,
    columns: Columns,
    base: BasePlan,
    standing: Standing,
    job: Job,
    material: SheetMaterial,
    *,
    touched_last: NDArray[np.float64] | None = None,
) -> Aired:
    """Fit vents to the pockets and the foot ring, or where the job says that vents shall be.

    Without the job's word some are added where a pocket would empty too slowly, and at the places (N, 3)
    where a forecast sheet touches last, unless one is near.
    """
    face = _face_hole(job, material)
    chosen = job.vents
    settings = VentSettings(
        skin_mm=chosen.skin_mm,
        back_bore_mm=chosen.back_bore_mm,
        wall_mm=chosen.wall_mm,
        channel_mm=chosen.channel_depth_mm,
    )
    ring = np.zeros((0, 2))
    if chosen.enabled and chosen.foot_ring and base.foot_ring is not None:
        ring = ring_points(base.foot_ring, spacing_mm=chosen.spacing_mm)
    if chosen.at_mm is not None and pockets is not None:
        wanted = _placed(chosen.at_mm, pockets, base, standing)
        plan = _planned(wanted, ring, columns, face, settings)
        return Aired(pockets, plan, tuple(_times(pockets, plan, job)))
    more: _Wanted = []
    if touched_last is not None and pockets is not None:
        more = _with_pockets(touched_last, pockets)
    return _found(pockets, ring, columns, face, settings, job, more)


def _placed(
    at_mm: tuple[tuple[float, float, float], ...], pockets: Pockets, base: BasePlan, standing: Standing
) -> _Wanted:
    """Places in the sculpt's coordinates as places on the buck, with the pocket that each lies in."""
    spots = standing.placed(np.array(at_mm, np.float64).reshape(-1, 3))
    spots[:, 2] += base.foot_z_mm
    return _with_pockets(spots, pockets)


def _with_pockets(spots: NDArray[np.float64], pockets: Pockets) -> _Wanted:
    """Places on the buck (N, 3), each with the pocket that it lies in."""
    columns, rows = np.floor((spots[:, :2] - pockets.origin) / pockets.pixel_mm).astype(np.int64).T
    height, width = pockets.label.shape
    inside = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
    label = np.zeros(len(spots), np.int64)
    label[inside] = pockets.label[rows[inside], columns[inside]]
    number = {pocket.label: i for i, pocket in enumerate(pockets.pockets)}
    return [(number.get(int(n), OPEN), (float(x), float(y), float(z))) for n, (x, y, z) in zip(label, spots)]


def _found(
    pockets: Pockets | None,
    ring: NDArray[np.float64],
    columns: Columns,
    face: FaceHole,
    settings: VentSettings,
    job: Job,
    more: _Wanted,
) -> Aired:
    """Vents at the deepest places, more of them where a pocket would empty too slowly."""
    spacing = job.vents.spacing_mm
    wanted = _joined(_pocket_points(pockets, spacing), more)
    plan = _planned(wanted, ring, columns, face, settings)
    times = _times(pockets, plan, job)
    for _ in range(_MORE_ROUNDS):
        slow = {i for i, seconds in enumerate(times) if seconds > job.vents.target_s}
        spacing /= 2.0
        if not slow or pockets is None:
            break
        finer = [point for point in _joined(_pocket_points(pockets, spacing), more) if point[0] in slow]
        if len(finer) == sum(point[0] in slow for point in wanted):
            break
        wanted = sorted(
            [point for point in wanted if point[0] not in slow] + finer, key=lambda point: point[0]
        )
        plan = _planned(wanted, ring, columns, face, settings)
        times = _times(pockets, plan, job)
    return Aired(pockets, plan, tuple(times))


def _joined(found: _Wanted, more: _Wanted) -> _Wanted:
    """Both, but of the second only what is not near one of the first, or of its own."""
    joined = list(found)
    for number, place in more:
        if all(np.hypot(place[0] - x, place[1] - y) > _NEAR_MM for _, (x, y, _z) in joined):
            joined.append((number, place))
    return sorted(joined, key=lambda point: point[0] if point[0] >= 0 else len(joined))


def _pocket_points(pockets: Pockets | None, spacing_mm: float) -> _Wanted:
    return [] if pockets is None else vent_points(pockets, spacing_mm=spacing_mm)


def _planned(
    wanted: _Wanted,
    ring: NDArray[np.float64],
    columns: Columns,
    face: FaceHole,
    settings: VentSettings,
) -> VentPlan:
    points = np.array([point for _, point in wanted], np.float64).reshape(-1, 3)
    foot = np.column_stack([ring, np.zeros(len(ring))])
    serves = [pocket for pocket, _ in wanted] + [FOOT] * len(ring)
    return plan_vents(np.concatenate([points, foot]), serves, columns, face=face, settings=settings)


def _times(pockets: Pockets | None, plan: VentPlan, job: Job) -> list[float]:
    """Seconds to empty each pocket through its own vents."""
    if pockets is None or not pockets.pockets:
        return []
    own = [vent.pocket for vent in plan.vents if vent.pocket >= 0]
    count = np.bincount(own, minlength=len(pockets.pockets))
    return _emptied_s(np.array([pocket.volume_mm3 for pocket in pockets.pockets]), count, plan, job)


def contact_times(run: "Forecast", plan: VentPlan, job: Job) -> tuple[float, ...]:
    """Seconds to empty each pocket of a forecast, as it was when it closed, through the vents under it."""
    tops = np.array([vent.top_mm for vent in plan.vents], np.float64).reshape(-1, 3)
    count = run.pockets_under(tops).sum(axis=1)
    return tuple(_emptied_s(np.array([pocket.volume_mm3 for pocket in run.pockets]), count, plan, job))


def _emptied_s(
    volumes: NDArray[np.float64], count: NDArray[np.int64], plan: VentPlan, job: Job
) -> list[float]:
    """Seconds to bring volumes (P,) in mm3 from an atmosphere to the target through so many vents each."""
    chosen = job.vents
    across = 2.0 * np.sqrt(plan.face.area_mm2 / np.pi)
    discharge = float(drilled_discharge(chosen.skin_mm, across))
    seconds = np.full(len(volumes), np.inf)
    served = count > 0
    seconds[served] = evacuation_time_s(
        volumes[served],
        count[served] * plan.face.area_mm2,
        discharge=discharge,
        target_pa=chosen.target_share * ATMOSPHERE_PA,
        plenum_pa=chosen.plenum_kpa * 1e3,
    )
    return [float(value) for value in seconds]
