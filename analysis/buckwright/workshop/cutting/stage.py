"""The stage that plans how blanks are cut."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.forming.sheets.settings import SheetSettings
from buckwright.stage import Figure, Stage, Told, entry_of
from buckwright.workshop.cutting import findings
from buckwright.workshop.cutting.settings import StockSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.workshop.cutting.planning import CuttingPlan
    from buckwright.workshop.group.planning import GroupPlan
    from buckwright.workshop.rig.planning import RigPlan

__all__ = ["CUTTING"]


def _plan(
    rigged: "RigPlan | None",
    sheet: SheetSettings,
    stock: StockSettings,
    grouped: "GroupPlan | None",
    clock: "Clock",
) -> "CuttingPlan | None":
    """None where no blank is planned."""
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.workshop.cutting.planning import plan_cutting

    if rigged is None:
        return None
    with clock.step("planning how blanks are cut"):
        return plan_cutting(
            rigged.blank_mm,
            stock,
            thickness_mm=sheet.thickness_mm,
            density_kg_m3=material_of(sheet.material).density_kg_m3.value,
            gap_mm=min(rigged.gap_mm),
            per_blank=grouped.copies if grouped is not None and grouped.fits else 1,
        )


def _findings(cuts: "CuttingPlan", _told: Told) -> "list[Finding]":
    return findings.about_cutting(cuts)


def _sections(cuts: "CuttingPlan", _told: Told) -> Mapping[str, Any]:
    return {"cutting": cuts.to_dict()}


def _facts(cuts: "CuttingPlan", _told: Told) -> list[str]:
    if not cuts.sheets:
        return []
    width, depth = cuts.layout.stock_mm
    count = len(cuts.layout.pieces)
    words = f"{counted(count, 'blank')} a stock sheet of {width:.0f} x {depth:.0f} mm"
    facts = [f"{words}; {counted(cuts.blanks, 'blank')} with spares: {counted(cuts.sheets, 'sheet')}"]
    if cuts.together is not None:
        sheets = counted(cuts.together.count, "sheet")
        facts.append(
            f"With the other blanks {sheets} in all; no layout does with less than {cuts.together.least}"
        )
    return facts


CUTTING = Stage(
    name="cutting",
    title="planning how blanks are cut",
    gives="cuts",
    needs=("rigged", "sheet", "stock", "grouped"),
    run=_plan,
    tables={"stock": StockSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    figures=(
        Figure(
            name="sheet_cost",
            label="Sheet for a Part",
            of=entry_of("cutting.cost_per_part"),
            better="less",
            digits=2,
        ),
    ),
)
