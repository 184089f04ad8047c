"""The page of a pull log for a terminal."""

from collections.abc import Sequence

from buckwright.cli.pages import wrapped
from buckwright.findings import counted
from buckwright.pipeline.log_words import advice_words, fitted_words, history_words
from buckwright.pipeline.pull_log import LogView
from buckwright.workshop.log.advice import figure
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
    history = [line for words in history_words(view) for line in wrapped(words)]
    fitted = [line for words in fitted_words(view) for line in wrapped(words)]
    lines += [*([""] if history else []), *history, "", *fitted, "", *wrapped(advice_words(view))]
    return "\n".join(lines) + "\n"


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
