"""How far a whole run is, from the steps that the child tells: one number that only grows.

Which steps a run will have is not known beforehand: what is kept from earlier ones is skipped. Each has a
usual place in the order and a usual length; a step that comes means that all before it are done. This module
must not import Blender.
"""

from collections.abc import Mapping

__all__ = ["USUAL_S", "WholeProgress"]

USUAL_S: Mapping[str, float] = {
    "copying the sculpt": 0.3,
    "starting": 1.5,
    "reading the sculpt": 0.1,
    "checking the mesh": 0.3,
    "simplifying the sculpt": 0.1,
    "finding the pull": 13.0,
    "taking a setup": 0.1,
    "reading the body": 0.3,
    "making it solid": 0.9,
    "looking for planes": 2.0,
    "cutting in two": 0.2,
    "surveying the halves": 1.0,
    "finding the depth": 0.2,
    "cutting the foot": 0.1,
    "growing to clearance": 4.0,
    "offsetting for the sheet": 3.0,
    "surveying the sculpt": 3.0,
    "looking at halves": 1.5,
    "filling undercuts": 11.0,
    "building the base": 0.7,
    "surveying the buck": 0.9,
    "finding pockets of air": 5.7,
    "forecasting the sheet": 10.0,
    "forecasting on a coarser net": 3.0,
    "forecasting another heat": 3.0,
    "trying a thicker sheet": 5.0,
    "comparing gaps": 5.0,
    "forecasting the group": 10.0,
    "trying take-up blocks": 20.0,
    "parting off the porous top": 1.0,
    "placing vents": 0.5,
    "forecasting with the vents": 5.0,
    "planning the underside": 0.2,
    "hollowing": 2.0,
    "drilling": 0.3,
    "rounding to what files hold": 0.4,
    "checking the buck": 0.3,
    "heating the sheet": 0.5,
    "fitting the printer": 1.0,
    "judging the print": 0.2,
    "looking for fine details": 0.7,
    "planning how blanks are cut": 0.1,
    "measuring clearance": 1.0,
    "drawing the artwork": 2.0,
    "drawing": 6.0,
    "writing": 0.5,
}
"""Seconds of each step in the order in which they come, measured on a smoothed monkey of 16 000 faces;
those that it did not need are judgements."""

_LAST = {
    "look": "surveying the sculpt",
    "forecast": "forecasting the sheet",
    "make": "planning how blanks are cut",
}
"""The last long step of a command that draws nothing."""
_OWN = {
    "halves": (
        "copying the sculpt",
        "starting",
        "reading the sculpt",
        "checking the mesh",
        "looking for planes",
        "cutting in two",
        "surveying the halves",
        "writing",
    )
}
"""All steps of a command that is no part of the way from a sculpt to its buck."""
_RARE = frozenset(
    {
        "drawing the artwork",
        "looking for planes",
        "looking at halves",
        "cutting in two",
        "surveying the halves",
        "trying a thicker sheet",
        "reading the body",
        "growing to clearance",
        "offsetting for the sheet",
        "measuring clearance",
        "hollowing",
        "comparing gaps",
        "forecasting the group",
        "trying take-up blocks",
        "parting off the porous top",
        "forecasting with the vents",
    }
)


class WholeProgress:
    """Follows one run.

    Attributes
    ----------
    share : how much of the whole run is done, 0..1; never less than before
    """

    def __init__(self, command: str, *, pictures: bool) -> None:
        names = list(USUAL_S)
        last = names.index("writing" if pictures else _LAST.get(command, "writing"))
        usual = [name for name in [*names[: last + 1], "writing"] if name not in _RARE]
        self._ahead = {name: USUAL_S[name] for name in _OWN.get(command, usual)}
        self.share = 0.0

    def tell(self, step: str, share: float) -> float:
        """Take in that a step is so far; the share of the whole."""
        name = step.partition(",")[0]
        if name in USUAL_S:
            order = list(USUAL_S)
            at = order.index(name)
            before = sum(long for one, long in self._ahead.items() if order.index(one) < at)
            whole = sum(self._ahead.values())
            now = before + min(max(share, 0.0), 1.0) * self._ahead.get(name, 0.0)
            self.share = max(self.share, min(now / whole, 1.0))
        return self.share
