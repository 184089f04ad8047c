"""The stage that asks whether the buck fits the machine, and what its vacuum does."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.stage import Answer, Stage, Told
from buckwright.workshop.machine import findings
from buckwright.workshop.machine.settings import MachineSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.shape.base.building import Blank
    from buckwright.shape.underside.planning import Underside
    from buckwright.workshop.group.neighbours.neighbour import Neighbour
    from buckwright.workshop.group.planning import GroupPlan, Place
    from buckwright.workshop.machine.planning import MachinePlan, Suction
    from buckwright.workshop.machine.platen import Air, PlatenHoles
    from buckwright.workshop.rig.planning import RigPlan

__all__ = ["MACHINE"]


def _plan(
    blank: "Blank",
    rigged: "RigPlan | None",
    grooved: "Underside",
    machine: MachineSettings,
    platen_mm: tuple[float, float] | None,
    machine_height_mm: float | None,
    target_share: float | None,
    material: str,
    grouped: "GroupPlan | None",
    neighbours: "tuple[Neighbour, ...] | None",
    clock: "Clock",
) -> "MachinePlan | None":
    """None for a buck that came without a plan of its base, and where nothing is known of a machine."""
    import numpy as np

    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.workshop.group.planning import beside_outlines, outlines_of, places_of
    from buckwright.workshop.machine.figures import MachineProfile
    from buckwright.workshop.machine.filling import gifts
    from buckwright.workshop.machine.own import machine as machine_of
    from buckwright.workshop.machine.planning import MachinePlan, plan_fit

    if rigged is None or blank.plan is None or machine == MachineSettings():
        return None
    clock.ask()
    profile = MachineProfile() if machine.profile is None else machine_of(machine.profile)
    x0, y0, x1, y1 = blank.plan.underside.bounds()
    middle = np.array([x0 + x1, y0 + y1]) / 2.0
    places = places_of(grouped)
    base = outlines_of([np.asarray(ring) - middle for ring in blank.plan.underside.to_polygons()], places)
    base += beside_outlines(grouped, [one.outlines for one in neighbours or ()])
    others = (neighbours or ()) if grouped is not None and grouped.fits else ()
    size = (x1 - x0, y1 - y0) if grouped is None or not grouped.fits else grouped.size_mm
    most = profile.machine_height_mm if machine_height_mm is None else machine_height_mm
    fit = plan_fit(
        machine,
        base=base,
        base_mm=size,
        height_mm=_tallest(blank, others),
        platen_mm=platen_mm,
        frame_mm=profile.frame_mm,
        opening_mm=rigged.opening_mm,
        most_mm=most,
        dead_mm=rigged.dead_mm,
        blank_mm=rigged.blank_mm,
        sag_share=material_of(material).sag_share.high,
    )
    holes = _sorted_holes(machine, platen_mm, rigged, base)
    return MachinePlan(
        title=profile.title or "Own figures",
        source=profile.source,
        mark=profile.mark,
        fit=fit,
        suction=_suction(machine, blank, rigged, target_share, len(places), others),
        holes=holes,
        air=None
        if holes is None
        else _air(holes, grooved, base, middle, places, gap=min(rigged.gap_mm) > 0.0),
        plated=rigged.reduction is not None,
        gives=gifts(machine, profile),
    )


def _suction(
    machine: MachineSettings,
    blank: "Blank",
    rigged: "RigPlan",
    target_share: float | None,
    count: int,
    others: "Sequence[Neighbour]",
) -> "Suction | None":
    from buckwright.shape.vents.settings import TARGET_SHARE
    from buckwright.workshop.machine.planning import plan_suction
    from buckwright.workshop.machine.vacuum import ATMOSPHERE_KPA, vacuum_of

    vacuum = vacuum_of(machine)
    if vacuum is None or blank.plan is None or blank.solid is None:
        return None
    width, depth = rigged.opening_mm
    # a tent from the frame to the top of the buck holds less than the box around both
    bucks_mm3 = count * float(blank.solid.volume()) + sum(one.copies * one.volume_mm3 for one in others)
    box_mm3 = width * depth * _tallest(blank, others) - bucks_mm3
    bases_mm2 = count * float(blank.plan.underside.area()) + sum(one.copies * one.base_mm2 for one in others)
    return plan_suction(
        vacuum,
        under_sheet_l=max(box_mm3, 0.0) * 1e-6,
        base_mm2=bases_mm2,
        target_kpa=(target_share or TARGET_SHARE) * ATMOSPHERE_KPA,
    )


def _tallest(blank: "Blank", others: "Sequence[Neighbour]") -> float:
    return max(float(mesh.size[2]) for mesh in (blank.mesh, *(other.mesh for other in others)))


def _sorted_holes(
    machine: MachineSettings, platen_mm: tuple[float, float] | None, rigged: "RigPlan", base: list[Any]
) -> "PlatenHoles | None":
    from buckwright.workshop.machine.opening import turned_like
    from buckwright.workshop.machine.platen import hole_grid, sort_holes

    if platen_mm is None or machine.hole_mm is None or machine.hole_pitch_mm is None:
        return None
    grid = hole_grid(
        turned_like(platen_mm, rigged.opening_mm),
        round_one=machine.shape == "round",
        pitch_mm=machine.hole_pitch_mm,
        hole_mm=machine.hole_mm,
    )
    return sort_holes(
        grid, machine.hole_mm, opening_mm=rigged.opening_mm, round_one=rigged.round_opening, base=base
    )


def _air(
    holes: "PlatenHoles",
    grooved: "Underside",
    base: list[Any],
    middle: Any,
    places: "Sequence[Place]",
    *,
    gap: bool,
) -> "Air":
    """Of every copy at its place."""
    import numpy as np

    from buckwright.workshop.group.planning import placed
    from buckwright.workshop.machine.platen import Air, air_of

    channels = grooved.channels
    airs = [
        air_of(
            holes,
            placed(np.asarray(channels.nodes) - middle, place),
            channels.links,
            channels.exits,
            base=base,
            vents=channels.vents,
            width_mm=channels.width_mm,
            gap=gap,
        )
        for place in places
    ]
    return Air(np.concatenate([one.reached for one in airs]), sum(one.under for one in airs))


def _findings(machined: "MachinePlan", told: Told) -> "list[Finding]":
    job = told.job
    return findings.about_machine(machined, sheet_mm=job.sheet.thickness_mm, vacuum=job.machine.vacuum)


def _sections(machined: "MachinePlan", told: Told) -> Mapping[str, Any]:
    return {"machine": machined.to_dict() | {"thickness_bias": told.job.machine.thickness_bias}}


def _answers(machined: "MachinePlan", _told: Told) -> list[Answer]:
    fit = machined.fit
    size = f"{fit.base_mm[0]:.0f} x {fit.base_mm[1]:.0f} mm, {fit.height_mm:.0f} mm tall"
    failed = False in (fit.on_platen, fit.passes, fit.low_enough)
    known = any(one is not None for one in (fit.on_platen, fit.passes, fit.low_enough))
    verdict = "no" if failed else "yes" if known else "not known"
    return [Answer("Fits", f"{verdict}: {size}; {machined.title[0].lower()}{machined.title[1:]}.")]


def _facts(machined: "MachinePlan", _told: Told) -> list[str]:
    facts, suction, holes, air = [], machined.suction, machined.holes, machined.air
    if suction is not None:
        facts.append(_vacuum_words(suction))
    if holes is not None and air is not None:
        masked = int(holes.masked.sum())
        how = "covered by the mask plate" if machined.plated else "to mask"
        facts.append(
            f"Platen: {counted(len(holes.places_mm), 'hole')}, {masked} {how}; "
            f"{int(air.reached.sum())} of {counted(len(air.reached), 'vent')} reach an open one"
        )
    return facts


def _automatic(machined: "MachinePlan") -> Mapping[str, Any]:
    return machined.gives


def _vacuum_words(suction: "Suction") -> str:
    import math

    air = f"{suction.box_l + suction.under_sheet_l:.1f} l of air"
    force = f"{suction.force_n:.0f} N on the base"
    if suction.shared_kpa is not None:
        again = (
            f", the tank is ready again after {suction.tank_s:.0f} s"
            if suction.tank_s is not None and math.isfinite(suction.tank_s)
            else ""
        )
        return f"Vacuum: tank and {air} share {suction.shared_kpa:.1f} kPa{again}; {force}"
    time = f"{suction.evacuate_s:.1f} s" if math.isfinite(suction.evacuate_s) else "never"
    return f"Vacuum: {air} down to {suction.target_kpa:.0f} kPa in {time}; {force}"


MACHINE = Stage(
    name="machine",
    title="fitting the machine",
    gives="machined",
    needs=(
        "blank",
        "rigged",
        "grooved",
        "machine",
        "base.platen_mm",
        "forecast.machine_height_mm",
        "vents.target_share",
        "sheet.material",
        "grouped",
        "neighbours",
    ),
    run=_plan,
    tables={"machine": MachineSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    facts=_facts,
    automatic=_automatic,
)
