"""What there is to say of blanks and stock."""

from buckwright.findings import Finding, FindingKind
from buckwright.workshop.cutting.planning import CuttingPlan

__all__ = ["KINDS", "about_cutting"]

WASTE = FindingKind(
    slug="sheet-waste",
    title="Sheet wasted",
    why="A change of 40 mm in the blank can double the waste.",
    rule="Blanks that are smaller by up to a fifth of their sides and keep half of the gap are tried in steps of "
    "5 mm.",
    source="house rule",
    remedies=(
        "Make the gap smaller by the amount named, and look at the forecast.",
        "Choose another stock size.",
    ),
)
STOCK = FindingKind(
    slug="stock-too-small",
    title="Stock too small",
    why="No blank can be cut from such a sheet.",
    rule="Blank = opening and a grip on each side; it goes on the stock sheet one way or the other.",
    source="geometry",
    remedies=("Give the stock's true size.", "Make the gap or the grip smaller."),
)
KINDS = (WASTE, STOCK)


def about_cutting(plan: CuttingPlan) -> list[Finding]:
    """Findings about the cutting plan.

    Parameters
    ----------
    plan : from `plan_cutting`

    Returns
    -------
    list of Finding
    """
    if not plan.sheets:
        (wide, deep), (width, depth) = plan.blank_mm, plan.layout.stock_mm
        return [
            STOCK.found(
                "warn",
                f"The blank of {wide:.0f} x {deep:.0f} mm does not go on stock of {width:g} x {depth:g} mm.",
                "Give the stock's true size, or make the gap smaller.",
                setting="stock.stock_mm",
            )
        ]
    if not plan.neighbours:
        return []
    one = plan.neighbours[0]
    return [
        WASTE.found(
            "note",
            f"A blank of {one.blank_mm[0]:.0f} x {one.blank_mm[1]:.0f} mm would give {one.per_sheet} a stock sheet "
            f"instead of {len(plan.layout.pieces)}; the gap would be {one.less_gap_mm:.1f} mm narrower on each side.",
            "A narrower gap makes walls thinner: forecast before you choose it.",
            setting="forecast.gap_mm",
        )
    ]
