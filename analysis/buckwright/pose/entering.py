"""Entering: a sculpt as it was read becomes a checked mesh in millimetres."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.clock import Clock
from buckwright.findings import Finding
from buckwright.mesh.door import Entered, enter
from buckwright.mesh.reading import Sculpt
from buckwright.mesh.repair import drop_unused
from buckwright.mesh.specks import without_specks
from buckwright.mesh.units import doubtful_size, mm_per, scale_for
from buckwright.pose.findings import DOUBTFUL_SIZE, FILE_NOTE
from buckwright.pose.settings import SculptSettings

__all__ = ["EnteredSculpt", "enter_sculpt", "scale_of"]


@dataclass(frozen=True, slots=True, eq=False)
class EnteredSculpt:
    """A sculpt that came through the door, in its own axes.

    Attributes
    ----------
    sculpt : as it was read
    scale : millimetres per unit of the file
    size : (3,) extent along the axes of the file, in its unit, without specks and stray points
    entered : the checked mesh, mm
    findings : what the file and its size give to think about
    """

    sculpt: Sculpt
    scale: float
    size: NDArray[np.float64]
    entered: Entered
    findings: tuple[Finding, ...]


def enter_sculpt(sculpt: Sculpt, settings: SculptSettings, clock: Clock) -> EnteredSculpt:
    """Scale and check a sculpt.

    Parameters
    ----------
    sculpt : as it was read
    settings : unit or wanted size
    clock : steps are told to it

    Raises
    ------
    MeshError
        The sculpt cannot be used.
    InputError
        Wanted sizes that contradict one another.
    Cancelled
        The user asked to stop.
    """
    size = without_specks(drop_unused(sculpt.mesh))[0].size
    scale = scale_of(settings, size, sculpt.unit_in_file)
    notes = [FILE_NOTE.found("note", note) for note in sculpt.notes]
    doubt = doubtful_size(size * scale)
    if doubt is not None:
        advice = "Specify the unit or a target size."
        notes.append(DOUBTFUL_SIZE.found("warn", doubt, advice, setting="sculpt.unit"))
    with clock.step("checking the mesh"):
        entered = enter(sculpt.mesh.transformed(np.diag([scale, scale, scale, 1.0])))
    return EnteredSculpt(sculpt, scale, size, entered, tuple(notes))


def scale_of(settings: SculptSettings, size: NDArray[np.float64], unit_in_file: str | None) -> float:
    """Millimetres per unit of the file: from a wanted size, a stated unit, or the file itself.

    Raises
    ------
    InputError
        Wanted sizes that contradict one another.
    """
    if settings.width_mm or settings.depth_mm or settings.height_mm:
        return scale_for(size, width=settings.width_mm, depth=settings.depth_mm, height=settings.height_mm)
    return mm_per(settings.unit or unit_in_file or "mm")
