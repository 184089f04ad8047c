"""The tools that cut the vents, and the check that every one of them went through."""

from dataclasses import dataclass, replace

import numpy as np
from manifold3d import CrossSection, Manifold, OpType
from numpy.typing import NDArray

from buckwright.errors import SolidError
from buckwright.shape.solid import united
from buckwright.shape.vents.vent import Leg, Vent, VentPlan

__all__ = ["BELOW_MM", "check_drilled", "drilled", "vent_tools", "without_faulty_vents"]

SEGMENTS = 20
"""Sides of a bore; its corners lie on the circle, so no bore is wider than planned."""
FAULTY = "the bore would open twice"
"""Why a vent was dropped that the samples had let pass."""
BELOW_MM = 1.0
"""How far the drills start below the platen, clear of any contact with the underside."""


def vent_tools(plan: VentPlan) -> list[Manifold]:
    """One stepped tool per vent (a dimple adds a second), none overlapping another vent's.

    Parameters
    ----------
    plan : from `placing.plan_vents`

    Returns
    -------
    list of Manifold : in mm, to subtract from the buck

    Notes
    -----
    The bore narrows to the hole by a 45 degree cone below its planned top, which prints without support and
    never leaves less skin than planned.
    """
    return [tool for vent in plan.vents for tool in _tools(vent, plan.bores.dimple_mm)]


def drilled(solid: Manifold, plan: VentPlan, *, extra: tuple[Manifold, ...] = ()) -> Manifold:
    """Subtract all vents and `extra` (channels, fixing holes, lettering) at once and check the result.

    Parameters
    ----------
    solid : the buck, standing on z = 0, mm
    plan : from `placing.plan_vents`
    extra : further tools to subtract

    Returns
    -------
    Manifold : the drilled buck

    Raises
    ------
    SolidError
        A vent did not go through, or two ran into each other (see `check_drilled`).
    """
    tools = [*vent_tools(plan), *extra]
    result = solid - united(tools) if tools else solid
    check_drilled(solid, result, plan)
    return result


def check_drilled(before: Manifold, after: Manifold, plan: VentPlan) -> None:
    """Accept only if each through vent added exactly one tunnel.

    Parameters
    ----------
    before, after : the buck before and after drilling
    plan : the vents that were cut

    Raises
    ------
    SolidError
        The number of tunnels (genus) did not grow by the number of through vents, or nothing is left.
    """
    if after.is_empty():
        raise SolidError("drilling left nothing of the solid")
    added = after.genus() - before.genus()
    if added != plan.through:
        raise SolidError(
            f"{plan.through} vents should make as many tunnels, but {added} were found: "
            "a vent misses the underside or runs into another one; use thicker walls or fewer vents"
        )


def without_faulty_vents(solid: Manifold, plan: VentPlan) -> VentPlan:
    """Drop vents that would not make exactly one tunnel each, before anything relies on them.

    Parameters
    ----------
    solid : the buck, standing on z = 0, mm
    plan : from `placing.plan_vents`

    Returns
    -------
    VentPlan : the plan itself if all are sound, as nearly always: places are fitted by samples

    Notes
    -----
    One subtraction of all of them; only if that shows a fault, ever smaller groups.
    """
    trial = _Trial(solid, solid.genus(), plan)
    every = list(range(len(plan.vents)))
    sound = trial.sound(every)
    if sound == every:
        return plan
    faulty = [n for n in every if n not in set(sound)]
    dropped = [(*plan.vents[n].top_mm, plan.vents[n].pocket, FAULTY) for n in faulty]
    return replace(plan, vents=tuple(plan.vents[n] for n in sound), dropped=(*plan.dropped, *dropped))


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """A solid on which vents are tried."""

    solid: Manifold
    genus: int
    plan: VentPlan

    def sound(self, numbers: list[int]) -> list[int]:
        """Those of some vents that make one tunnel each, alone and together."""
        if self._all_sound(numbers):
            return numbers
        if len(numbers) == 1:
            return []
        half = len(numbers) // 2
        kept, others = self.sound(numbers[:half]), self.sound(numbers[half:])
        if self._all_sound([*kept, *others]):
            return [*kept, *others]
        for n in others:
            if self._all_sound([*kept, n]):
                kept = [*kept, n]
        return kept

    def _all_sound(self, numbers: list[int]) -> bool:
        vents = [self.plan.vents[n] for n in numbers]
        tools = [tool for vent in vents for tool in _tools(vent, self.plan.bores.dimple_mm)]
        through = sum(vent.face.opening != "dimple" for vent in vents)
        return not tools or (self.solid - united(tools)).genus() - self.genus == through


def _tools(vent: Vent, dimple_mm: float) -> list[Manifold]:
    return _upright_tools(vent, dimple_mm) if vent.leg is None else [_leaning_tool(vent, vent.leg)]


def _leaning_tool(vent: Vent, leg: Leg) -> Manifold:
    """Shaft, leg and narrow hole; above the face it goes straight up, so that no wall is undercut."""
    top, knee, radius = np.array(vent.top_mm), np.array(leg.knee_mm), vent.back_bore_mm / 2
    out = (top - knee) / np.linalg.norm(top - knee)
    # The same ball ends shaft and leg: their surfaces then never nearly coincide.
    ball = Manifold.sphere(radius, SEGMENTS)
    foot = Manifold.cylinder(BELOW_MM / 2, radius, circular_segments=SEGMENTS)
    bottom = foot.translate((knee[0], knee[1], -BELOW_MM))
    joint = ball.translate(tuple(knee))
    start = top - (leg.narrow_mm + radius) * out
    # A 45 degree cone touches the ball and ends 0.41 radii above it.
    tip = Manifold.sphere(0.05, 8).translate(tuple(start + (np.sqrt(2.0) * radius - 0.05) * out))
    parts = [
        Manifold.batch_hull([bottom, joint]),
        Manifold.batch_hull([joint, ball.translate(tuple(start)), tip]),
        _narrow(vent, start, top, out),
        _narrow(vent, top, np.array([*top[:2], vent.cap_mm]), np.array([0.0, 0.0, 1.0]), turned=out),
    ]
    return Manifold.batch_boolean(parts, OpType.Add)


def _narrow(
    vent: Vent,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    along: NDArray[np.float64],
    *,
    turned: NDArray[np.float64] | None = None,
) -> Manifold:
    """The narrow hole from one place to another; a slot lies level, across the way the leg leans."""
    lean = along if turned is None else turned
    across = np.array([-lean[1], lean[0], 0.0]) / np.hypot(lean[0], lean[1])
    section = CrossSection.circle(vent.face.width_mm / 2, SEGMENTS)
    if vent.face.opening == "slot":
        section = CrossSection.square((vent.face.length_mm, vent.face.width_mm), True)
    # The two pieces overlap by half a width, so that they meet all round.
    spare = vent.face.width_mm / 2
    prism = section.extrude(float(np.linalg.norm(end - start)) + spare)
    frame = np.column_stack([across, np.cross(along, across), along, start - spare * along])
    return prism.transform(frame)


def _upright_tools(vent: Vent, dimple_mm: float) -> list[Manifold]:
    half = vent.face.width_mm / 2
    closed = vent.face.opening == "dimple"
    tools = []
    bored = vent.bore_top_mm > 0 and vent.back_bore_mm / 2 > half
    if vent.face.opening == "hole":
        profile = [(0.0, -BELOW_MM), *(_bore(vent, half) if bored else [(half, -BELOW_MM)])]
        tools.append(_turned([*profile, (half, vent.cap_mm), (0.0, vent.cap_mm)]))
    elif bored:
        tools.append(_turned([(0.0, -BELOW_MM), *_bore(vent, half), (0.0, vent.bore_top_mm)]))
    if vent.face.opening == "slot":
        tools = [_slot(vent, tools)]
    if closed:
        # Straight up from the rim of the cone: beside a wall, a wider cone would undercut the wall.
        z, deep, cap = vent.top_mm[2], dimple_mm, vent.cap_mm
        tools.append(_turned([(0.0, z - deep), (deep, z), (deep, cap), (0.0, cap)]))
    return [tool.translate((vent.top_mm[0], vent.top_mm[1], 0.0)) for tool in tools]


def _bore(vent: Vent, half: float) -> list[tuple[float, float]]:
    radius = vent.back_bore_mm / 2
    shoulder = max(vent.bore_top_mm - (radius - half), 0.5 * vent.bore_top_mm)
    return [(radius, -BELOW_MM), (radius, shoulder), (half, vent.bore_top_mm)]


def _slot(vent: Vent, bores: list[Manifold]) -> Manifold:
    # The slot starts where the bore's cone is still wider than the slot is long.
    radius = vent.back_bore_mm / 2
    start = max(vent.bore_top_mm - radius, 0.25 * vent.bore_top_mm) if bores else -BELOW_MM
    prism = CrossSection.square((vent.face.length_mm, vent.face.width_mm), True).extrude(vent.cap_mm - start)
    return Manifold.batch_boolean([*bores, prism.translate((0.0, 0.0, start))], OpType.Add)


def _turned(profile: list[tuple[float, float]]) -> Manifold:
    points: NDArray[np.float64] = np.array(profile, dtype=np.float64)
    return CrossSection([points]).revolve(SEGMENTS)
