"""Settings of halving."""

import attrs

from buckwright.pose.settings import AXES
from buckwright.settings import direction, number, switch, whole

__all__ = ["HalvesSettings"]


@attrs.frozen(kw_only=True)
class HalvesSettings:
    """Halves: a plane that parts the sculpt into two, each for a buck of its own."""

    seek: bool = switch(
        False,
        label="Halve",
        tip="Look for planes that part the sculpt so that each half comes off without much fill",
    )
    propose: bool = switch(
        True,
        label="Propose Halves",
        tip="Where a part locks and much is hidden, tell whether halves or a loose insert would do better",
    )
    plane: int = whole(
        1,
        low=1,
        high=3,
        label="Plane",
        tip="Which of the planes that were found is taken, by its number; 1 is the best",
        front=True,
    )
    normal: str | tuple[float, float, float] = direction(
        "search",
        AXES,
        label="Across",
        tip="Direction across the plane, in the sculpt's own axes; the first half is pulled this way",
    )
    offset_mm: float | None = number(
        None,
        low=-10_000,
        high=10_000,
        unit="mm",
        label="Offset",
        tip="Distance of the plane from the sculpt's origin, along the direction across it",
        automatic="where both halves lose least",
        start=0.0,
    )
    overlap_mm: float = number(
        6.0,  # common practice, no source
        low=0,
        high=100,
        unit="mm",
        label="Seam Overlap",
        tip="How far the first half's part reaches over the second's, for glue or rivets; 0 for a butt seam",
    )
    key_mm: float = number(
        1.5,  # house rule
        low=0,
        high=20,
        unit="mm",
        label="Seam Key Radius",
        tip="Radius of the ribs at the seam that fit the halves together one way only; 0 for none",
    )
