"""Which few settings a search may change, and what it tries: spread out first, then near the best."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from buckwright.forming.forecast.thresholds import GAUGES_MM
from buckwright.job import Job
from buckwright.many.judging import THIN, WEB, Judged
from buckwright.many.varying import Varied

__all__ = [
    "Place",
    "block_choices",
    "choices_for",
    "neighbours",
    "own_first",
    "radii_for",
    "sinks_for",
    "spread_out",
]

type Place = tuple[int, ...]
"""A variant: which value of each choice it takes; 0 everywhere is the job as it is set."""

# Usual at the bench; house rule.
_RISERS_MM = (8.0, 12.0, 18.0, 25.0)
_GAPS_MM = (20.0, 30.0, 45.0, 60.0)
_SETUPS = (1, 2, 3)
_FILLETS_MM = (4.0, 7.0)
_CORNERS_MM = (10.0, 20.0, 35.0)
_WORTH_SINKING_MM = 1.0
"""A widest outline nearer to the foot is no other depth; as in the advice on tall parts. House rule."""
_CUTS_AT_MOST = 0.1
"""Of the sculpt: a part that lacks more is another part. House rule."""


def choices_for(job: Job) -> list[Varied]:
    """Choices for a job, each with its own value first (None: left out, so that the rule decides).

    Notes
    -----
    Setup (pull and depth together) where the pull is searched for; riser; gap to the frame where neither
    frame nor machine is named; the next thinner and thicker sheet that is sold nearly everywhere; the fill
    where the job fills anything.
    """
    found = [_choice("base.riser_mm", job.base.riser_mm, _RISERS_MM)]
    if job.pull.direction == "search":
        found.insert(0, _choice("pull.setup", job.pull.setup, _SETUPS))
    if job.forecast.frame_mm is None and job.machine.profile is None:
        found.append(_choice("forecast.gap_mm", job.forecast.gap_mm, _GAPS_MM))
    gauge = job.sheet.thickness_mm
    thinner, thicker = ([g for g in GAUGES_MM if g < gauge][-1:], [g for g in GAUGES_MM if g > gauge][:1])
    found.append(_choice("sheet.thickness_mm", gauge, (*thinner, *thicker)))
    if job.fill.mode != "none":
        found.append(_choice("fill.mode", job.fill.mode, ("full", "locked")))
    return found


def sinks_for(job: Job, report: Mapping[str, Any]) -> list[Varied]:
    """Depths of sinking, where the pull is fixed and there is another one than that of the job as it is set.

    Parameters
    ----------
    job : as it is set
    report : its report, which knows how deep the sculpt is sunk and where it is widest

    Returns
    -------
    list of Varied : not at all, and down to the widest outline where that cuts off little; where the pull is
        searched for, each setup has its depth, and where a body says where the part ends, that decides
    """
    if job.pull.direction == "search" or (job.body.file and job.body.foot == "widest"):
        return []
    pull = report["pull"]
    others: list[float | str] = [0.0] if pull["sink_mm"] > 0.0 else []
    if pull["widest_mm"] > _WORTH_SINKING_MM and pull["widest_cuts_share"] <= _CUTS_AT_MOST:
        others.append("widest")
    return [_choice("base.sink_mm", job.base.sink_mm, others)] if others else []


def radii_for(job: Job, own: Judged) -> list[Varied]:
    """Radii of the base that may help where the job as it is set webs over the trim line or is too thin.

    Parameters
    ----------
    job : as it is set
    own : what came of it

    Returns
    -------
    list of Varied : the fillet of a flange; the corners of a rectangular base
    """
    if not {WEB, THIN} & set(own.lacks):
        return []
    found = []
    if job.base.style == "flange" and job.mould.form == "male":
        found.append(_choice("base.fillet_mm", job.base.fillet_mm, _FILLETS_MM))
    if job.base.footprint == "rectangle" and job.base.outline_mm is None:
        found.append(_choice("base.corner_mm", job.base.corner_mm, _CORNERS_MM))
    return found


def block_choices(job: Job, own: Judged) -> list[Varied]:
    """Take-up blocks, where the job as it is set has a web over the trim line and blocks have a place.

    Each variant with blocks takes about ten forecasts.

    Parameters
    ----------
    job : as it is set
    own : what came of it
    """
    asked = job.take_up.enabled or job.take_up.at_mm is not None
    has_room = job.base.style == "flange" and job.mould.form == "male" and job.forecast.model == "membrane"
    if asked or not has_room or WEB not in own.lacks:
        return []
    return [_choice("take_up.enabled", False, (True,))]


def own_first(asked: Varied, job: Job) -> Varied:
    """A choice that was asked for, with the job's own value before the others."""
    table, _, key = asked.name.partition(".")
    return _choice(asked.name, getattr(job.tables[table], key), asked.values)


def _choice(name: str, own: object, others: Iterable[object]) -> Varied:
    return Varied(name, tuple(dict.fromkeys((own, *others))))


def spread_out(sizes: Sequence[int], count: int) -> list[Place]:
    """Variants spread over all choices, the job as it is set first; no two alike.

    Parameters
    ----------
    sizes : number of values of each choice
    count : of variants, at most

    Returns
    -------
    list of places : always the same ones

    Notes
    -----
    A Sobol sequence (scipy): the first few cover each choice evenly, and all pairs of choices nearly so.
    """
    from scipy.stats.qmc import Sobol

    most = min(count, int(np.prod(sizes)))
    found = dict.fromkeys([(0,) * len(sizes)])
    engine = Sobol(len(sizes), scramble=False)
    for _ in range(12):  # of 2, 4, 8 ... points: 4096 are more than are ever tried
        if len(found) >= most:
            break
        for point in engine.random(max(engine.num_generated, 2)):
            if len(found) < most:
                found.setdefault(tuple(int(share * size) for share, size in zip(point, sizes)))
    return list(found)


def neighbours(place: Place, sizes: Sequence[int]) -> list[Place]:
    """Variants that differ from one in a single choice."""
    return [
        (*place[:n], value, *place[n + 1 :])
        for n, size in enumerate(sizes)
        for value in range(size)
        if value != place[n]
    ]
