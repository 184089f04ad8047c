"""The page of a pull log for a terminal."""

from collections.abc import Sequence

from buckwright.cli.pages import wrapped
from buckwright.findings import counted
from buckwright.pipeline.pull_log import LogView, hold_words
from buckwright.workshop.log.advice import change_words, figure, recipe
from buckwright.workshop.log.record import FAULTS, PullRecord

__all__ = ["log_page"]

_SHOWN = 12
_COLUMNS = (("heat_s", "heat s"), ("sag_s", "sag at s"), ("sag_mm", "sag mm"), ("buck_c", "buck °C"))


def log_page(view: LogView, *, where: str) -> str:
    """What a log tells: the last pulls, the best, what changed, what it says of heater and sheet, what next.

    Parameters
    ----------
    view : from `view_log`
    where : where the log stands

    Returns
    -------
    str
    """
    lines = _table(view.pulls, view.best)
    lines.append(f"{counted(len(view.pulls), 'pull')} on this buck; {where}")
    if view.best is not None:
        best = view.pulls[view.best]
        lines += ["", *wrapped(f"Best so far: pull {view.best + 1}, {recipe(best)}.")]
    if view.changed:
        lines += wrapped(f"Changed before the last: {change_words(view.changed)}.")
        if len(view.changed) > 1:
            lines += wrapped("More than one thing was changed: which of them did it cannot be told.")
    lines += ["", *fitted_lines(view), "", *wrapped(f"Next: {view.advice.words} {view.advice.reason}")]
    return "\n".join(lines) + "\n"


def fitted_lines(view: LogView) -> list[str]:
    """What the pulls say of heater, sheet and forecast.

    Parameters
    ----------
    view : from `view_log`

    Returns
    -------
    list of lines
    """
    fitted, lines = view.fitted, []
    source = f"from {counted(fitted.observed, 'figure')}" if fitted.observed else "nothing noted yet"
    lines += wrapped(
        f"Heater {fitted.heater:.2f} times as strong as set (+-{fitted.heater_sd:.0%}), sheet takes up "
        f"{fitted.pick_up:.2f} times as much as in the table (+-{fitted.pick_up_sd:.0%}), sags by "
        f"{fitted.sag_share:.0%} of the opening (+-{100.0 * fitted.sag_sd:.0f} points) when ready; {source}."
    )
    if view.cooling is not None:
        noted = f" From {counted(view.cooling.observed, 'figure')}." if view.cooling.observed else ""
        lines += wrapped(f"{hold_words(view.cooling)}{noted}")
    if view.bias is not None:
        lines += wrapped(
            f"Measured parts are {view.bias.ratio:.2f} times as thick as forecast (+-{view.bias.spread:.0%}, "
            f"{counted(view.bias.points, 'point')}); --keep-bias keeps it with your machine"
        )
    return lines


def _table(pulls: Sequence[PullRecord], best: int | None) -> list[str]:
    if not pulls:
        return []
    heads = "".join(f"{head:>10}" for _, head in _COLUMNS)
    lines = [f"{'pull':<6}{heads}{'fill':>6}{'faults':>8}  change next"]
    first = max(0, len(pulls) - _SHOWN)
    for n, pull in enumerate(pulls[first:], first):
        cells = "".join(f"{figure(getattr(pull, key)):>10}" for key, _ in _COLUMNS)
        faults = sum(getattr(pull, key) or 0.0 for key in FAULTS)
        mark = "*" if n == best else ""
        lines.append(f"{f'{n + 1}{mark}':<6}{cells}{figure(pull.fill):>6}{faults:>8g}  {pull.next}".rstrip())
    return lines
