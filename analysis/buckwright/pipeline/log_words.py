"""What a log of pulls says, line by line, for any page that shows it."""

from typing import Any

from buckwright.findings import counted
from buckwright.pipeline.pull_log import LogView, carry_words, hold_words
from buckwright.workshop.log.advice import change_words, recipe

__all__ = ["advice_words", "fitted_words", "history_words", "log_report"]


def log_report(view: LogView) -> dict[str, Any]:
    """What a log says, for a program that shows it.

    Parameters
    ----------
    view : from `view_log`

    Returns
    -------
    dict : `pulls`, how many there are; `lines`; `next`; `fitted`, `carrying` and `cooling` with their figures
    """
    return {
        "pulls": len(view.pulls),
        "lines": [*history_words(view), *fitted_words(view)],
        "next": advice_words(view),
        "fitted": view.fitted.to_dict(),
        "carrying": view.carrying.to_dict(),
        "cooling": None if view.cooling is None else view.cooling.to_dict(),
    }


def history_words(view: LogView) -> list[str]:
    """The best pull, and what was changed before the last one.

    Parameters
    ----------
    view : from `view_log`
    """
    lines = []
    if view.best is not None:
        lines.append(f"Best so far: pull {view.best + 1}, {recipe(view.pulls[view.best])}.")
    if view.changed:
        lines.append(f"Changed before the last: {change_words(view.changed)}.")
        if len(view.changed) > 1:
            lines.append("More than one thing was changed: which of them did it cannot be told.")
    return lines


def fitted_words(view: LogView) -> list[str]:
    """What the pulls say of heater, sheet, time on the buck and forecast.

    Parameters
    ----------
    view : from `view_log`
    """
    fitted, cooling = view.fitted, view.cooling
    source = f"from {counted(fitted.observed, 'figure')}" if fitted.observed else "nothing noted yet"
    lines = [
        f"Heater {fitted.heater:.2f} times as strong as set (±{fitted.heater_sd:.0%}), sheet takes up "
        f"{fitted.pick_up:.2f} times as much as in the table (±{fitted.pick_up_sd:.0%}), sags by "
        f"{fitted.sag_share:.0%} of the opening (±{100.0 * fitted.sag_sd:.0f} points) when ready; {source}."
    ]
    if view.carrying.observed:
        source = counted(view.carrying.observed, "figure")
        lines.append(f"{carry_words(view.carrying)} From {source}.")
    if cooling is not None:
        noted = f" From {counted(cooling.observed, 'figure')}." if cooling.observed else ""
        lines.append(f"{hold_words(cooling)}{noted}")
    if view.bias is not None:
        lines.append(
            f"Measured parts are {view.bias.ratio:.2f} times as thick as forecast (±{view.bias.spread:.0%}, "
            f"{counted(view.bias.points, 'point')}); keep it with your machine: "
            f"thickness_bias = {view.bias.ratio:.2f}"
        )
    return lines


def advice_words(view: LogView) -> str:
    """What to try next.

    Parameters
    ----------
    view : from `view_log`
    """
    return f"Next: {view.advice.words} {view.advice.reason}"
