"""The stage that sets the filled sculpt on its base."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from buckwright.errors import JobError
from buckwright.shape.base import findings
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.mould.settings import MouldSettings
from buckwright.stage import Answer, Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.posing import Posed
    from buckwright.shape.base.blocks import Block
    from buckwright.shape.base.building import Blank
    from buckwright.shape.fill.filled import Filled
    from buckwright.survey.surveying import Surveyed

__all__ = ["BASE", "build"]


def build(
    posed: "Posed",
    surveyed: "Surveyed",
    filled: "Filled",
    base: BaseSettings,
    mould: MouldSettings,
    thickness_mm: float,
    channel_depth_mm: float,
    reducing: bool,
    mask_mm: float,
    gasket_mm: float,
    gasket_squeeze: float,
    blocks: "tuple[Block, ...]",
    clock: "Clock",
) -> "Blank":
    """Set the filled sculpt on its base; arguments as the stage's needs."""
    import numpy as np

    from buckwright.shape.base.building import build_blank
    from buckwright.shape.mould.cavity import build_mould
    from buckwright.workshop.rig.planning import clamp_plane_mm

    dead = clamp_plane_mm(reducing=reducing, mask_mm=mask_mm, gasket_mm=gasket_mm, squeeze=gasket_squeeze)
    outline = None if base.outline_mm is None else posed.placed(np.array(base.outline_mm))[:, :2]
    if blocks and mould.form != "male":
        raise JobError("take-up blocks stand on the flange of a male buck: set mould.form to male")
    male = mould.form == "male"
    made = partial(build_blank, blocks=blocks) if male else partial(build_mould, floor_mm=mould.floor_mm)
    with clock.step("building the base"):
        blank = made(
            filled.body.solid,
            outline,
            base=base,
            sheet_mm=thickness_mm,
            draft_deg=surveyed.wanted_deg,
            channel_mm=channel_depth_mm,
            dead_mm=dead,
        )
        return replace(blank, dropped=blank.dropped + filled.dropped)


def _findings(blank: "Blank", _told: Told) -> "list[Finding]":
    return [] if blank.plan is None else findings.about_base(blank.plan.notes)


def _answers(blank: "Blank", told: Told) -> list[Answer]:
    if blank.plan is None:
        return []
    width, depth, _ = blank.plan.size_mm
    size = f"{width:.1f} x {depth:.1f} mm, {blank.mesh.size[2]:.1f} mm tall"
    platen = told.job.base.platen_mm
    if platen is None:
        return [Answer("Fits", f"{size}; no platen size given.")]
    fits = max(width, depth) <= max(platen) and min(width, depth) <= min(platen)
    verdict = "yes" if fits else "no"
    return [Answer("Fits", f"{verdict}: {size}; platen {platen[0]:g} x {platen[1]:g} mm.")]


def _sections(blank: "Blank", _told: Told) -> Mapping[str, Any]:
    return {} if blank.plan is None else {"base": blank.plan.to_dict()}


def _arrays(blank: "Blank", _told: Told) -> Mapping[str, Any]:
    """The trim line and the outline of the base, in the buck's frame."""
    import numpy as np

    if blank.plan is None:
        return {}
    arrays: dict[str, Any] = {}
    for n, line in enumerate(blank.plan.part.to_polygons()):
        arrays[f"trim_{n}"] = np.column_stack([line, np.full(len(line), blank.plan.trim_z_mm)])
    for n, line in enumerate(blank.plan.underside.to_polygons()):
        arrays[f"outline_{n}"] = np.asarray(line, np.float64)
    return arrays


def _automatic(blank: "Blank") -> Mapping[str, Any]:
    plan = blank.plan
    if plan is None:
        return {}
    names = ("riser_mm", "land_mm", "fillet_mm", *(() if plan.over else ("flange_mm",)))
    chosen = {f"base.{name}": float(getattr(plan, name)) for name in names}
    return chosen | ({"mould.floor_mm": plan.flange_mm} if plan.over else {})


BASE = Stage(
    name="base",
    title="building the base",
    gives="blank",
    needs=(
        "posed",
        "surveyed",
        "filled",
        "base",
        "mould",
        "sheet.thickness_mm",
        "vents.channel_depth_mm",
        "rig.reducing",
        "rig.mask_mm",
        "rig.gasket_mm",
        "rig.gasket_squeeze",
        "blocks",
    ),
    run=build,
    tables={"base": BaseSettings, "mould": MouldSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    arrays=_arrays,
    automatic=_automatic,
)
