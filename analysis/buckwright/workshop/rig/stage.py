"""The stage that plans the rig."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.stage import Figure, Stage, Told
from buckwright.workshop.machine.opening import opening_of
from buckwright.workshop.rig import findings
from buckwright.workshop.rig.planning import clamp_plane_mm, plan_rig
from buckwright.workshop.rig.settings import RigSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.shape.base.building import Blank
    from buckwright.workshop.group.neighbours.neighbour import Neighbour
    from buckwright.workshop.group.planning import GroupPlan
    from buckwright.workshop.rig.planning import RigPlan

__all__ = ["RIG"]


def _plan(
    blank: "Blank",
    formed: "BuckForecast | None",
    rig: RigSettings,
    platen_mm: tuple[float, float] | None,
    frame_mm: tuple[float, float] | None,
    gap_mm: float | None,
    machine_height_mm: float | None,
    profile: str | None,
    shape: str | None,
    grouped: "GroupPlan | None",
    neighbours: "tuple[Neighbour, ...] | None",
    clock: "Clock",
) -> "RigPlan | None":
    """None for a buck that came without a plan of its base."""
    from buckwright.forming.forecast.buck_forecast import frame_round

    if blank.plan is None:
        return None
    clock.ask()
    width, depth, _ = blank.plan.size_mm
    height = float(blank.mesh.size[2])
    own = opening_of(
        profile,
        (width, depth),
        shape=shape,
        asked=frame_mm is not None or gap_mm is not None or rig.reducing,
    )
    opening = frame_mm or frame_round((width, depth), height, gap_mm)
    if own is not None:
        opening = own.size_mm
    elif formed is not None:
        opening = formed.forecast.settings.frame_mm
    round_one = own is not None and own.round_one
    if grouped is not None and grouped.fits:
        (width, depth), opening, round_one = grouped.size_mm, grouped.opening_mm, grouped.round_opening
    return plan_rig(
        base_mm=(width, depth),
        height_mm=max([height, *(float(one.mesh.size[2]) for one in neighbours or ())]),
        opening_mm=opening,
        grip_mm=rig.clamped_mm,
        reducing=rig.reducing,
        platen_mm=platen_mm,
        dead_mm=clamp_plane_mm(
            reducing=rig.reducing,
            mask_mm=rig.mask_mm,
            gasket_mm=rig.gasket_mm,
            squeeze=rig.gasket_squeeze,
        ),
        gasket_width_mm=rig.gasket_width_mm,
        machine_height_mm=machine_height_mm,
        owned_mm=rig.owned_mm,
        round_opening=round_one,
    )


def _findings(rigged: "RigPlan", told: Told) -> "list[Finding]":
    plan = told.results["blank"].plan
    return findings.about_rig(rigged, trim_z_mm=plan.trim_z_mm, flange_z_mm=plan.flange_z_mm)


def _sections(rigged: "RigPlan", _told: Told) -> Mapping[str, Any]:
    return {"rig": rigged.to_dict()}


def _facts(rigged: "RigPlan", _told: Told) -> list[str]:
    (wide, deep), (width, depth) = rigged.blank_mm, rigged.opening_mm
    return [f"Sheet blank {wide:.0f} x {deep:.0f} mm for an opening of {width:.0f} x {depth:.0f} mm"]


def _blank_cm2(report: Mapping[str, Any]) -> float | None:
    sides = report.get("rig", {}).get("blank_mm")
    return None if sides is None else sides[0] * sides[1] / 100.0


def _arrays(rigged: "RigPlan", told: Told) -> Mapping[str, Any]:
    """Lines round the buck in its frame, and where further bucks of the same pull stand."""
    import numpy as np

    from buckwright.workshop.group.planning import places_of
    from buckwright.workshop.machine.opening import turned_like
    from buckwright.workshop.machine.own import machine
    from buckwright.workshop.rig.bench import bench_lines, bench_places

    job, machined, plan = told.job, told.get("machined"), told.results["blank"].plan
    platen = own = None
    if machined is not None and machined.fit.platen_mm is not None:
        platen = turned_like(machined.fit.platen_mm, rigged.opening_mm)
    frame = None if job.machine.profile is None else machine(job.machine.profile).frame_mm
    if frame is not None:
        own = turned_like(frame, rigged.opening_mm)
    x0, y0, x1, y1 = plan.underside.bounds()
    places = [(one.x, one.y, one.turned) for one in places_of(told.get("grouped"))]
    matrices = bench_places(places, np.array([x0 + x1, y0 + y1]) / 2.0)
    lines = bench_lines(
        rigged,
        corner_mm=job.rig.corner_mm,
        platen_mm=platen,
        machine_mm=own,
        round_one=machined is not None and machined.fit.round_platen,
    )
    turn, shift = matrices[0][:3, :3], matrices[0][:3, 3]
    placed = {f"bench_{name}": line @ turn.T + shift for name, line in lines.items()}
    placed |= _others(told, turn, shift)
    return placed | {"bench_copies": matrices[1:]}


def _others(told: Told, turn: Any, shift: Any) -> dict[str, Any]:
    """Bucks of other jobs at their places, in the frame of the first buck."""
    import numpy as np

    from buckwright.workshop.group.planning import placed

    grouped, made = told.get("grouped"), []
    kinds = () if grouped is None else zip(told.get("neighbours") or (), grouped.beside)
    for one, kind in kinds:
        for place in kind.places:
            flat = placed(one.mesh.vertices[:, :2], place)
            around = np.column_stack([flat, one.mesh.vertices[:, 2]])
            made.append((around @ turn.T + shift, one.mesh.faces))
    return {
        f"bench_other_{n}_{what}": values
        for n, (vertices, faces) in enumerate(made)
        for what, values in (("vertices", vertices), ("faces", faces))
    }


RIG = Stage(
    name="rig",
    title="planning frame and blank",
    gives="rigged",
    needs=(
        "blank",
        "formed",
        "rig",
        "base.platen_mm",
        "forecast.frame_mm",
        "forecast.gap_mm",
        "forecast.machine_height_mm",
        "machine.profile",
        "machine.shape",
        "grouped",
        "neighbours",
    ),
    run=_plan,
    tables={"rig": RigSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    figures=(Figure(name="blank_cm2", label="Blank", unit="cm2", of=_blank_cm2, better="less"),),
    arrays=_arrays,
)
