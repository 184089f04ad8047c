"""What a viewport shows of a result: the arrays of the faces, and what is on the graphics card."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ..bridge.library import ColorMap
from .formed_overlay import Skin
from .mesh_faces import Faces
from .overlay_gpu import FaceBatch, LineBatch
from .ramps import FORMED

__all__ = ["Shown"]


@dataclass(slots=True, kw_only=True)
class Shown:
    """What is painted: the arrays it was made from, and what is on the graphics card.

    Attributes
    ----------
    scene : session uid of the scene
    key : tells one result from another; under live colours, the result that they stand before
    live : whether this is draft alone, measured after sculpting
    faces : triangles, in the space that `follow` takes to the world
    values : (F,) arrays by the names of attributes; `state` and `draft_deg` among them
    anchor : session uid of the sculpt that the colours follow, 0 for none
    follow : takes the faces to the space of that sculpt
    changed : whether the shape under live colours is another by now
    marked : whether trapped faces have their lines
    sheet_mm : thickness of the sheet before forming, 0 without a forecast
    skins : the surfaces that a forecast paints
    shares : share of the judged area that is free, tight, trapped
    """

    scene: int
    key: tuple[Any, ...] | None
    live: bool
    faces: Faces
    values: dict[str, NDArray[Any]]
    anchor: int
    follow: Matrix
    quantity: ColorMap
    wanted_deg: float
    sheet_mm: float = 0.0
    skins: list[Skin] = field(default_factory=list)
    changed: bool = False
    marked: bool = False
    lowest: float = 0.0
    highest: float = 1.0
    shares: tuple[float, float, float] = (0.0, 0.0, 0.0)
    shade: NDArray[np.float32] = field(default_factory=lambda: np.empty(0, np.float32))
    batch: FaceBatch | None = None
    hatching: LineBatch | None = None
    outline: LineBatch | None = None

    @property
    def missing(self) -> bool:
        """Whether the result has no values of the wanted quantity."""
        over = any(self.quantity.array in skin.values for skin in self.skins)
        return self.quantity.array not in self.values and not over

    @property
    def is_formed(self) -> bool:
        """Whether the wanted quantity is one of the formed sheet."""
        return self.quantity.array in FORMED
