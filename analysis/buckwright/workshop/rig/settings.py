"""Settings of the rig."""

import attrs

from buckwright.errors import JobError
from buckwright.settings import number, switch, text

__all__ = ["RigSettings"]

_LEAST_MM, _MOST_MM = 10.0, 10_000.0
_GRIP_MM = 15.0  # makers grip 13 to 35 mm (read): house rule


@attrs.frozen(kw_only=True)
class RigSettings:
    """Rig: how the sheet is held, and the set that reduces the machine to a smaller opening."""

    reducing: bool = switch(
        False,
        label="Reducing Set",
        tip="Plan a mask plate, a gasket and a clamp frame for an opening smaller than the machine's",
        front=True,
        preset="machine",
    )
    grip_mm: float | None = number(
        None,
        low=2,
        high=200,
        unit="mm",
        label="Grip",
        tip="Width of sheet that is clamped on each side of the opening",
        automatic="the machine's clamp, else 15 mm",
        start=15.0,
        preset="machine",
    )
    corner_mm: float = number(
        10.0,
        low=0,
        high=500,
        unit="mm",
        label="Opening Corners",
        tip="Radius of the corners of the reduced opening; rounded ones make fewer webs",
    )
    mask_mm: float = number(
        3.0,
        low=0.3,
        high=50,
        unit="mm",
        label="Mask Plate",
        tip="Thickness of the plate that covers the rest of the platen",
        preset="machine",
    )
    gasket_mm: float = number(
        6.0,
        low=0.5,
        high=50,
        unit="mm",
        label="Gasket",
        tip="Height of the gasket strip before it is squeezed",
        preset="machine",
    )
    gasket_width_mm: float = number(
        10.0,
        low=2,
        high=100,
        unit="mm",
        label="Gasket Width",
        tip="Width of the gasket strip",
        preset="machine",
    )
    gasket_squeeze: float = number(
        0.5,
        low=0,
        high=0.9,
        label="Gasket Squeeze",
        tip="Share of its height that the gasket gives way under the frame",
        preset="machine",
    )
    owned: str = text(
        label="Own Frames",
        tip="Inside sizes in mm of clamp frames that are there already, such as 280 x 230, 300 x 200",
        preset="machine",
        longest=400,
    )

    def __attrs_post_init__(self) -> None:
        """Refuse sizes that cannot be read."""
        _ = self.owned_mm

    @property
    def clamped_mm(self) -> float:
        """Width of sheet under the clamp."""
        return _GRIP_MM if self.grip_mm is None else self.grip_mm

    @property
    def owned_mm(self) -> tuple[tuple[float, float], ...]:
        """Inside width and depth of each frame that is there already."""
        return tuple(_size(entry) for entry in self.owned.split(",") if entry.strip())


def _size(entry: str) -> tuple[float, float]:
    sides = entry.lower().replace("mm", "").split("x")
    try:
        width, depth = (float(side) for side in sides)
    except ValueError:
        width = depth = -1.0
    if not (_LEAST_MM <= width <= _MOST_MM and _LEAST_MM <= depth <= _MOST_MM):
        raise JobError(
            f"rig.owned: {entry.strip()!r} is no size of a frame; write inside width and depth in mm, "
            "sizes parted by commas: 280 x 230, 300 x 200"
        )
    return width, depth
