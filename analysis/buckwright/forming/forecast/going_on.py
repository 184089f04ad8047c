"""A run that goes on where another one, which differs in nothing but its vents, had its frame down."""

import numpy as np

from buckwright.forming.forecast.active_set import ActiveSet
from buckwright.forming.forecast.formed import FREE, Formed, Lowered
from buckwright.forming.forecast.sheet_run import SheetRun

__all__ = ["go_on", "lowered_sheet"]


def lowered_sheet(run: SheetRun) -> Lowered:
    """What another run needs to go on from here.

    Parameters
    ----------
    run : the sheet on its way, its frame at rest and all of its air still under it

    Returns
    -------
    Lowered
    """
    run.gather()
    return Lowered(
        points=run.x.copy(),
        state=run.state.copy(),
        touched=run.touched.copy(),
        turned=run.turned.copy(),
        steps=run.step,
        pictures=len(run.snapshots),
        free=run.free_at_snapshot,
        forced=run.forced,
        factored=run.factored,
    )


def go_on(run: SheetRun, formed: Formed, lowered: Lowered) -> None:
    """Bring a sheet that has not moved yet to where another one had its frame down.

    Parameters
    ----------
    run : the sheet at its start, changed in place
    formed : what became of the other one, from the same start over the same ground
    lowered : that one with its frame down
    """
    count = len(run.x)
    run.x, run.state = lowered.points.copy(), lowered.state.copy()
    run.touched, run.turned = lowered.touched.copy(), lowered.turned.copy()
    run.loose = ActiveSet(run.x, run.state == FREE, run.ref)
    run.free, run.free_at_snapshot = int((run.state == FREE).sum()), lowered.free
    run.step, run.forced, run.factored = lowered.steps, lowered.forced, lowered.factored
    frames = formed.frame_mm[: run.step].tolist()
    run.log = list(zip(formed.pressure_per_mm[: run.step].tolist(), frames, strict=True))
    run.frame_mm = frames[-1]
    # a finer net keeps the nodes of the first one in front
    pictures = np.ascontiguousarray(formed.snapshots[: lowered.pictures, :count])
    steps = formed.snapshot_steps[: lowered.pictures].tolist()
    run.snapshots = list(zip(steps, pictures, strict=True))
    run.share = 0.5
