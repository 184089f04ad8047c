"""The stages that bring the sculpt into the pull frame: reading, pull, pose."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.forming.sheets.settings import SheetSettings
from buckwright.pose import findings
from buckwright.pose.settings import FitSettings, JobSettings, PullSettings, SculptSettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.aiming import Aim
    from buckwright.pose.entering import EnteredSculpt
    from buckwright.pose.posing import Posed

__all__ = ["POSE", "PULL", "SCULPT"]


def _enter(source: Any, sculpt: SculptSettings, clock: "Clock") -> "EnteredSculpt":
    from buckwright.pose.entering import enter_sculpt

    with clock.step("reading the sculpt"):
        given = source.read()
    return enter_sculpt(given, sculpt, clock)


def _aim(entered: "EnteredSculpt", pull: PullSettings, sink_mm: float | str, clock: "Clock") -> "Aim":
    from buckwright.pose.aiming import aim

    with clock.step("finding the pull"):
        return aim(entered.entered.mesh, pull, sink_mm, clock)


def _pose(
    entered: "EnteredSculpt",
    aim: "Aim",
    sheet: SheetSettings,
    fit: FitSettings,
    sink_mm: float | str,
    clock: "Clock",
) -> "Posed":
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.pose.posing import pose

    return pose(
        entered,
        aim,
        material=material_of(sheet.material),
        sheet_mm=sheet.thickness_mm,
        sink_mm=sink_mm,
        fit=fit,
        clock=clock,
    )


def _findings(posed: "Posed", told: Told) -> "list[Finding]":
    return findings.about_pose(posed, lift_mm=told.lift_mm)


def _sections(posed: "Posed", told: Told) -> Mapping[str, Any]:
    matrix = posed.matrix.copy()
    matrix[2, 3] += told.lift_mm
    candidates = [] if posed.search is None else [one.to_dict() for one in posed.search.candidates]
    return {
        "input": posed.input_dict(),
        "frame": {"matrix": matrix},
        "pull": {"direction": posed.direction, "candidates": candidates, "sink_mm": posed.sunk_mm},
    }


def _facts(posed: "Posed", told: Told) -> list[str]:
    if told.get("blank") is not None:
        return []
    x, y, z = posed.mesh.size
    size = f"{x:.1f} x {y:.1f} x {z:.1f} mm including shrinkage allowance"
    return [f"Sculpt {size}, {posed.mesh.face_count:,} faces"]


def _arrays(posed: "Posed", told: Told) -> Mapping[str, Any]:
    """`frame` takes coordinates of the file to the frame of the buck."""
    import numpy as np

    frame = posed.matrix.copy()
    frame[2, 3] += told.lift_mm
    return {"frame": frame, "repaired": np.bool_(told.sources().remeshed)}


def _automatic(posed: "Posed") -> Mapping[str, Any]:
    """What followed from the file, the sheet and the shape."""
    width, depth, height = (float(side) for side in posed.size * posed.scale)
    return {
        "sculpt.unit": posed.sculpt.unit_in_file or "mm",
        "sculpt.width_mm": width,
        "sculpt.depth_mm": depth,
        "sculpt.height_mm": height,
        "fit.shrinkage": posed.shrinkage,
    } | ({} if posed.formed_thickness_mm is None else {"fit.formed_thickness_mm": posed.formed_thickness_mm})


SCULPT = Stage(
    name="sculpt",
    title="reading the sculpt",
    gives="entered",
    needs=("source", "sculpt"),
    run=_enter,
    tables={"job": JobSettings, "sculpt": SculptSettings},
)
PULL = Stage(
    name="pull",
    title="finding the pull",
    gives="aim",
    needs=("entered", "pull", "base.sink_mm"),
    run=_aim,
    tables={"sheet": SheetSettings, "pull": PullSettings},
    keep=True,
)
POSE = Stage(
    name="pose",
    title="making it solid",
    gives="posed",
    needs=("entered", "aim", "sheet", "fit", "base.sink_mm"),
    run=_pose,
    tables={"fit": FitSettings},
    keep=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    arrays=_arrays,
    automatic=_automatic,
)
