"""Whether a sculpt that locks had better be halved, or a deep place of it freed by itself; a quick look."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from buckwright.clock import Clock
from buckwright.mesh.triangles import Mesh
from buckwright.pose.aiming import Aim
from buckwright.pose.halves.inserts import Insert, inserts_for
from buckwright.pose.halves.search import PartingPlane, find_planes
from buckwright.pose.halves.shells import closed_shell
from buckwright.pose.setups.measuring import Figures, measure
from buckwright.pose.setups.proxy import Proxy, proxy_of
from buckwright.pose.setups.walls import may_be_shell
from buckwright.survey.surveying import Surveyed

__all__ = ["Proposal", "Tried", "propose", "try_planes"]

# Worth a look where it locks and so much of the surface is trapped, or so much detail hidden. House rules.
_TRAPPED = 0.05
_HIDDEN = 0.25
# The simplified sculpt may tell of so much less that is trapped than there is. House rule.
_NEARLY = 0.5
# Halving is proposed where it shows so much more of the detail. House rule.
_GAIN = 0.1
_DIRECTIONS, _STARTS = 24, 2
_PIXELS = 224


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """What could be done in place of much fill.

    Attributes
    ----------
    hidden_share : share of the detail that the sculpt hides as it is set up; nan where nobody looked
    fill_volume_mm3 : about what it takes in fill; nan as well
    plane : the best of a few planes; None where halving gains too little, or nobody looked
    inserts : deep places that could be freed by themselves
    """

    hidden_share: float
    fill_volume_mm3: float
    plane: PartingPlane | None
    inserts: tuple[Insert, ...]

    def to_dict(self) -> dict[str, Any]:
        """The section `proposal` of report.json."""
        return {
            "hidden_share": self.hidden_share,
            "fill_volume_mm3": self.fill_volume_mm3,
            "halves": None if self.plane is None else self.plane.to_dict(),
            "inserts": [one.to_dict() for one in self.inserts],
        }


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """Planes that were tried before anybody knew whether the sculpt locks.

    Attributes
    ----------
    figures : of the sculpt as it is set up
    planes : the best first; None where it hides too little for them to be worth a look
    """

    figures: Figures
    planes: tuple[PartingPlane, ...] | None


def try_planes(mesh: Mesh, proxy: Proxy, aim: Aim, *, draft_deg: float, clock: Clock) -> Tried:
    """Try a few planes on a sculpt that seems to need them, while it is still surveyed.

    Parameters
    ----------
    mesh, proxy : the sculpt in its own axes, mm, and simplified
    aim : how it is set up
    draft_deg : wanted draft
    clock : steps are told to it

    Notes
    -----
    The simplified sculpt tells about what is trapped; where that is near what is worth a look, planes are
    tried, whatever the survey will say.
    """
    figures = _figures(proxy, aim, draft_deg)
    trapped = figures.trapped_area_mm2 >= _NEARLY * _TRAPPED * proxy.area_mm2
    unasked = Tried(figures, None)
    return (
        _looked(mesh, proxy, aim, unasked, draft_deg, clock) if trapped or _hides(aim, figures) else unasked
    )


def propose(
    mesh: Mesh, proxy: Proxy, aim: Aim, part: Mesh, surveyed: Surveyed, tried: Tried, *, clock: Clock
) -> Proposal | None:
    """Look for something better than much fill.

    Parameters
    ----------
    mesh, proxy : the sculpt in its own axes, mm, and simplified
    aim : how it is set up
    part, surveyed : it in the pull frame, and its survey
    tried : planes that were tried beside the survey
    clock : steps are told to it

    Returns
    -------
    Proposal or None : None where there is nothing to say

    Notes
    -----
    Twenty-four directions beside axes and planes of symmetry, two planes measured finely: a fifth of what
    `halves` looks at, no setups and no sheets. Not done where little of the surface is trapped.
    """
    inserts = inserts_for(part, surveyed)
    trapped = sum(region.area_mm2 for region in surveyed.undercuts.regions)
    area = float(part.areas().sum())
    locks = surveyed.release.locked > 0 and trapped >= _TRAPPED * area
    if not locks and not _hides(aim, tried.figures):
        return Proposal(float("nan"), float("nan"), None, inserts) if inserts else None
    if tried.planes is None:
        tried = _looked(mesh, proxy, aim, tried, surveyed.wanted_deg, clock)
    figures, planes = tried.figures, tried.planes
    best = planes[0] if planes and figures.lost_share - planes[0].hidden_share >= _GAIN else None
    if best is None and not inserts:
        return None
    return Proposal(figures.lost_share, figures.fill_volume_mm3, best, inserts)


def _hides(aim: Aim, figures: Figures) -> bool:
    """Whether a setup that was searched for hides so much detail that halves are worth a look."""
    return bool(aim.taken) and figures.lost_share >= _HIDDEN


def _looked(mesh: Mesh, proxy: Proxy, aim: Aim, tried: Tried, draft_deg: float, clock: Clock) -> Tried:
    """Planes, and figures to weigh them against: both of a shell that is closed inside."""
    figures = tried.figures
    with clock.step("looking at halves"):
        if may_be_shell(proxy.volume_mm3, proxy.area_mm2, hull_mm3=proxy.hull_mm3):
            shell, mesh = mesh, closed_shell(mesh)
            if mesh is not shell:
                proxy = proxy_of(mesh)
                figures = _figures(proxy, aim, draft_deg)
        planes = find_planes(
            mesh, draft_deg=draft_deg, directions=_DIRECTIONS, starts=_STARTS, proxy=proxy, tick=clock.tick
        )
    return Tried(figures, planes)


def _figures(proxy: Proxy, aim: Aim, draft_deg: float) -> Figures:
    """Figures of the setup that was taken, or of a pull that was given."""
    if aim.taken:
        return aim.setups[aim.taken - 1].figures
    sink = 0.0 if isinstance(aim.sink_mm, str) and aim.sink_mm == "auto" else aim.sink_mm
    way = np.ascontiguousarray(proxy.turn @ aim.direction)
    found = measure(proxy, way, (sink,), draft_deg=draft_deg, pixels=_PIXELS, exact=True)
    return found[0]
