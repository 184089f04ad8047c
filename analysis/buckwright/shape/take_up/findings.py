"""What there is to say of take-up blocks."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted, verb

if TYPE_CHECKING:
    from buckwright.shape.take_up.taken_up import TakenUp

__all__ = ["KINDS", "about_take_up"]

BLOCKS = FindingKind(
    slug="take-up-blocks",
    title="Take-up blocks",
    why="A web that crosses the trim line spoils the part; a block outside the corner takes its sheet up lower down.",
    rule=(
        "Blocks outside the wall where webs cross the trim line, close to it and below the trim line, in up to eight "
        "arrangements. The forecast is run with each; blocks are kept only where webs become shorter and no more of "
        "them stands above the trim line, folds too short to be told as webs counted in. Where more than half of their "
        "length is left, risers twice and three times as high are forecast too, with up to three arrangements each, and "
        "the first that halves it is told."
    ),
    source="this tool's own forecast and search",
    remedies=(
        "Raise the riser: webs end lower, and blocks can be taller.",
        "More draft or rounder corners.",
        "A smaller frame.",
    ),
)
NO_BLOCK = FindingKind(
    slug="no-take-up-block",
    title="No take-up block",
    why="Not every web can be taken up by a block below the trim line.",
    rule="Told where blocks are sought and none is kept, with the best that was tried.",
    source="this tool's own forecast and search",
    remedies=(
        "Raise the riser: webs end lower, and blocks have more room.",
        "More draft or rounder corners.",
        "A smaller frame.",
    ),
)
KINDS = (BLOCKS, NO_BLOCK)


def about_take_up(taken: "TakenUp", *, trim_mm: float) -> list[Finding]:
    """Findings about take-up blocks.

    Parameters
    ----------
    taken : what was tried and kept
    trim_mm : height of the trim line

    Returns
    -------
    list of Finding
    """
    told = _given(taken) if taken.given else _sought(taken)
    return [*_too_low(taken), *_too_high(taken, trim_mm), *told]


def _too_low(taken: "TakenUp") -> list[Finding]:
    if not taken.too_low:
        return []
    blocks = counted(taken.too_low, "take-up block")
    words = f"{blocks} {verb(taken.too_low, 'lie')} no higher than the flange and {'is' if taken.too_low == 1 else 'are'} left out."
    return [BLOCKS.found("warn", words, "Raise them, or delete them.", setting="take_up.at_mm")]


def _too_high(taken: "TakenUp", trim_mm: float) -> list[Finding]:
    high = [block for block in taken.blocks if block.top_mm > trim_mm]
    if not high:
        return []
    one = max(high, key=lambda block: block.top_mm)
    words = (
        f"{counted(len(high), 'take-up block')} {verb(len(high), 'rise')} above the trim line, the tallest by"
    )
    words += f" {one.top_mm - trim_mm:.1f} mm: the part would keep its shape."
    at = (one.x_mm, one.y_mm, one.top_mm)
    return [BLOCKS.found("warn", words, "Lower it.", at_mm=at, setting="take_up.at_mm")]


def _given(taken: "TakenUp") -> list[Finding]:
    blocks = counted(len(taken.blocks), "take-up block")
    if taken.before_mm is None:
        words = f"{blocks} as given; without a forecast nobody knows what they do."
        return [BLOCKS.found("note", words, setting="forecast.quality")]
    words = f"{blocks} as given: {_figures(taken)}"
    if not taken.blocks or not taken.before_mm or taken.helps:
        return [BLOCKS.found("note", words)]
    advice = "Move them closer to the wall, make them lower, or have them searched for again."
    return [BLOCKS.found("warn", words, advice, setting="take_up.at_mm")]


def _sought(taken: "TakenUp") -> list[Finding]:
    if taken.before_mm is None:
        words = (
            "Take-up blocks need a forecast by the membrane model, and the flange of a male buck to stand on; "
            "one of the two is missing."
        )
        return [NO_BLOCK.found("note", words, setting="forecast.quality")]
    if not taken.webs:
        return [NO_BLOCK.found("note", "No web crosses the trim line: no take-up block is needed.")]
    if not taken.trials:
        words = "No take-up block has room between the flange and the trim line."
        return [NO_BLOCK.found("note", words, _higher(taken) or "Raise the riser.", setting="base.riser_mm")]
    if taken.blocks:
        words, advice = f"{counted(len(taken.blocks), 'take-up block')}: {_figures(taken)}", _higher(taken)
        if not taken.halves:
            words += f" Of {counted(len(taken.trials), 'arrangement')} that were tried none halves them."
            advice = advice or _MORE
        setting = "base.riser_mm" if advice else "take_up.enabled"
        return [BLOCKS.found("note", words, advice, setting=setting)]
    least = min(taken.trials, key=lambda trial: trial.length_mm)
    words = (
        f"No take-up block helps. Of {counted(len(taken.trials), 'arrangement')} the best left webs of "
        f"{least.length_mm:.0f} mm that cross the trim line, {least.over_mm:.0f} mm of it above; without blocks there "
        f"are {taken.before_mm:.0f} and {taken.over_before_mm:.0f} mm."
    )
    return [NO_BLOCK.found("note", words, _higher(taken) or _MORE, setting="base.riser_mm")]


_MORE = "A higher riser gives blocks more room, and lets webs end lower."


def _higher(taken: "TakenUp") -> str:
    """What a higher riser would do, where blocks do too little and it was tried."""
    higher = taken.raised
    if higher is None:
        return ""
    rise = f"A riser of {higher.riser_mm:.0f} mm"
    rise += f" with {counted(higher.blocks, 'block')}" if higher.blocks else ""
    if higher.length_mm == 0.0:
        return f"{rise} leaves none of these webs across the trim line (forecast)."
    return f"{rise} leaves {higher.length_mm:.0f} mm, {higher.over_mm:.0f} mm of it above (forecast)."


def _figures(taken: "TakenUp") -> str:
    return (
        f"webs that cross the trim line are {taken.after_mm:.0f} mm long in all, {taken.over_after_mm:.0f} mm of it "
        f"above; without blocks {taken.before_mm:.0f} and {taken.over_before_mm:.0f} mm (forecast)."
    )
