"""The stage that lays several bucks in one opening."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.stage import Stage, Told
from buckwright.workshop.group import findings
from buckwright.workshop.group.settings import GroupSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.shape.base.building import Blank
    from buckwright.workshop.group.comparing import Way
    from buckwright.workshop.group.neighbours.neighbour import Neighbour
    from buckwright.workshop.group.planning import GroupPlan

__all__ = ["GROUP"]


def _plan(
    blank: "Blank",
    neighbours: "tuple[Neighbour, ...] | None",
    group: GroupSettings,
    frame_mm: tuple[float, float] | None,
    gap_mm: float | None,
    reducing: bool,
    profile: str | None,
    shape: str | None,
    clock: "Clock",
) -> "GroupPlan | None":
    """None for one buck, and for one that came without a plan of its base."""
    from buckwright.forming.forecast.buck_forecast import frame_round
    from buckwright.workshop.group.mixed import Wanted, plan_mixed
    from buckwright.workshop.group.planning import plan_group, spacing_for
    from buckwright.workshop.machine.own import machine

    others = neighbours or ()
    if blank.plan is None or (group.copies == 1 and not others):
        return None
    clock.ask()
    x0, y0, x1, y1 = blank.plan.underside.bounds()
    base, height = (x1 - x0, y1 - y0), _height(blank, others)
    own = None if profile is None or reducing else machine(profile).frame_mm
    spacing = spacing_for(height) if group.spacing_mm is None else group.spacing_mm
    edge = group.edge_mm
    if edge is None:
        edge = (frame_round(base, height, gap_mm)[0] - base[0]) / 2.0
    given: dict[str, Any] = {
        "spacing_mm": spacing,
        "edge_mm": edge,
        "opening_mm": frame_mm or own,
        "round_one": frame_mm is None and shape == "round",
    }
    if not others:
        return plan_group(base, group.copies, **given)
    wanted = [Wanted(one.name, one.base_mm, one.copies) for one in others]
    return plan_mixed(Wanted("this buck", base, group.copies), wanted, **given)


def _height(blank: "Blank", others: "Sequence[Neighbour]") -> float:
    """Of the tallest buck."""
    return max(float(one.size[2]) for one in (blank.mesh, *(other.mesh for other in others)))


def _findings(grouped: "GroupPlan", told: Told) -> "list[Finding]":
    height = _height(told.results["blank"], told.get("neighbours") or ())
    return findings.about_group(grouped, height_mm=height)


def _sections(grouped: "GroupPlan", told: Told) -> Mapping[str, Any]:
    ways = [way.to_dict() for way in _ways(grouped, told)]
    return {"group": grouped.to_dict() | {"ways": ways}}


def _ways(grouped: "GroupPlan", told: Told) -> "list[Way]":
    """One at a time with a reducing set, and beside it the group; of mixed ones each job counts its own."""
    from buckwright.forming.forecast.buck_forecast import frame_round
    from buckwright.workshop.group.comparing import way_of
    from buckwright.workshop.rig.planning import gripped

    job, height = told.job, float(told.results["blank"].mesh.size[2])
    one = frame_round(grouped.base_mm, height, job.forecast.gap_mm)
    heated = told.get("heated")
    pull_s = None
    if heated is not None and heated.works:
        pull_s = float(heated.chosen_s + heated.cool_s)
    counts = [(1, one)]
    if grouped.fits and not grouped.beside:
        counts.append((grouped.copies, grouped.opening_mm))
    return [
        way_of(count, gripped(opening, job.rig.clamped_mm), job.stock, pull_s=pull_s)
        for count, opening in counts
    ]


def _facts(grouped: "GroupPlan", told: Told) -> list[str]:
    if not grouped.fits:
        return []
    lines = [_together_words(grouped)] if grouped.beside else []
    for way in _ways(grouped, told):
        hours = "" if way.hours is None else f", {way.hours:.1f} h"
        lines.append(
            f"{way.per_pull} in one pull: blank {way.blank_mm[0]:.0f} x {way.blank_mm[1]:.0f} mm, "
            f"{counted(way.pulls, 'pull')}, {counted(way.sheets, 'sheet')}{hours}"
        )
    return lines


def _together_words(grouped: "GroupPlan") -> str:
    each = ", ".join(f"{one.copies} of {one.name}" for one in grouped.beside)
    width, depth = grouped.opening_mm
    return (
        f"In one pull: {grouped.copies} of this buck, {each}, in an opening of {width:.0f} x {depth:.0f} mm"
    )


def _automatic(grouped: "GroupPlan") -> Mapping[str, Any]:
    return {"group.spacing_mm": grouped.spacing_mm, "group.edge_mm": grouped.edge_mm}


GROUP = Stage(
    name="group",
    title="laying several bucks",
    gives="grouped",
    needs=(
        "blank",
        "neighbours",
        "group",
        "forecast.frame_mm",
        "forecast.gap_mm",
        "rig.reducing",
        "machine.profile",
        "machine.shape",
    ),
    run=_plan,
    tables={"group": GroupSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    automatic=_automatic,
)
