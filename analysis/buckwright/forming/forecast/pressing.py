"""The pressing: the air leaves, and the pressure difference presses the sheet on."""

from buckwright.forming.forecast.sheet_run import SheetRun, longest

__all__ = ["evacuate"]

_LAST_REST = 0.02
_PRESSURE_STEP = 0.05  # largest relative growth of the pressure at one load
_FIRST_EASE, _EASE_GROWTH = 1 / 8, 1.3  # share of the step as evacuation begins, its growth per load
_FIRST_PRESSURE = 0.01  # and the smallest pressure step ever made, over the final pressure


def evacuate(run: SheetRun, most: float) -> None:
    """Raise the pressure difference.

    Parameters
    ----------
    run : the sheet on its way, its frame at rest
    most : final pressure difference over modulus and thickness, 1/mm
    """
    run.ease = _FIRST_EASE
    run.cap = run.ease * run.care.step * run.reach_mm
    run.factor()
    run.snapshot()
    if run.vents is not None:
        run.drain(run.vents)
    run.settle(rest=run.care.rest)
    while run.pressure < most and not run.over():
        more = run.more()
        reach = longest(run.mixing.corrected(more))
        bound = max(_PRESSURE_STEP * run.pressure, _FIRST_PRESSURE * most)
        rise = min((1.0 - run.care.rest) * run.cap / reach, bound) if reach > 0.0 else bound
        rise = min(rise, most - run.pressure)
        run.pressure += rise
        if run.ready is not None:
            run.ready = run.ready + rise * more
        run.settle(rest=run.care.rest)
        run.give_way(rest=run.care.rest)
        run.ease = min(_EASE_GROWTH * run.ease, 1.0)
        run.cap = run.ease * run.care.step * run.reach_mm
        if run.vents is not None:
            run.drain(run.vents)
        run.share = max(run.share, 1.0 - 0.5 * run.free / len(run.state))
    run.settle(rest=_LAST_REST)
    run.give_way(rest=_LAST_REST)
