"""Entering: a sculpt as it was read becomes a checked mesh in millimetres."""

from dataclasses import dataclass, replace

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.clock import Clock
from buckwright.errors import InputError
from buckwright.findings import Finding
from buckwright.mesh.door import Entered, enter, solidify
from buckwright.mesh.reading import Sculpt
from buckwright.mesh.repair import drop_unused
from buckwright.mesh.specks import without_specks
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.units import doubtful_size, mm_per, scale_for
from buckwright.pose.findings import DOUBTFUL_SIZE, FILE_NOTE
from buckwright.pose.settings import SculptSettings
from buckwright.pose.size.settings import SizeSettings
from buckwright.shape.solid import as_solid

__all__ = ["EnteredSculpt", "enter_sculpt", "heights", "scale_of", "whole_solid"]


@dataclass(frozen=True, slots=True, eq=False)
class EnteredSculpt:
    """A sculpt that came through the door, in its own axes.

    Attributes
    ----------
    sculpt : as it was read, its heights multiplied if that is asked for
    scale : millimetres per unit of the file
    size : (3,) extent along the axes of the file, in its unit, without specks and stray points
    entered : the checked mesh, mm
    factor : by which it was scaled to a named measurement; 1 without one
    findings : what the file and its size give to think about
    """

    sculpt: Sculpt
    scale: float
    size: NDArray[np.float64]
    entered: Entered
    factor: float
    findings: tuple[Finding, ...]


def enter_sculpt(
    sculpt: Sculpt, settings: SculptSettings, clock: Clock, measure: SizeSettings | None = None
) -> EnteredSculpt:
    """Scale and check a sculpt.

    Parameters
    ----------
    sculpt : as it was read
    settings : unit or wanted size
    clock : steps are told to it
    measure : a named measurement to scale to, or None

    Raises
    ------
    MeshError
        The sculpt cannot be used.
    InputError
        Wanted sizes that contradict one another.
    Cancelled
        The user asked to stop.
    """
    sculpt = _exaggerated(sculpt, settings.height_factor)
    clean = without_specks(drop_unused(sculpt.mesh))[0]
    size = clean.size
    scale = scale_of(settings, size, sculpt.unit_in_file)
    factor = 1.0 if measure is None else _factor(clean, scale, settings, measure)
    scale *= factor
    notes = [FILE_NOTE.found("note", note) for note in sculpt.notes]
    doubt = doubtful_size(size * scale)
    if doubt is not None:
        advice = "Specify the unit or a target size."
        notes.append(DOUBTFUL_SIZE.found("warn", doubt, advice, setting="sculpt.unit"))
    with clock.step("checking the mesh"):
        entered = enter(sculpt.mesh.transformed(np.diag([scale, scale, scale, 1.0])))
    return EnteredSculpt(sculpt, scale, size, entered, factor, tuple(notes))


def heights(mesh: Mesh, factor: float) -> NDArray[np.float64]:
    """Multiply heights over the lowest point of a mesh, which stays: as well of the result as of the mesh.

    Parameters
    ----------
    mesh : in the axes of the file
    factor : > 0; 1 changes nothing

    Returns
    -------
    (4, 4) float64
    """
    matrix = np.eye(4)
    if factor != 1.0:
        matrix[2, 2], matrix[2, 3] = factor, (1.0 - factor) * float(mesh.bounds[0, 2])
    return matrix


def _exaggerated(sculpt: Sculpt, factor: float) -> Sculpt:
    """Heights over the lowest point of the file multiplied; the very same sculpt for 1."""
    if factor == 1.0:
        return sculpt
    note = f"Heights along the sculpt's Z axis are {factor:g} times those of the file."
    raised = sculpt.mesh.transformed(heights(sculpt.mesh, factor))
    return replace(sculpt, mesh=raised, notes=(*sculpt.notes, note))


def _factor(mesh: Mesh, scale: float, settings: SculptSettings, measure: SizeSettings) -> float:
    """By how much more the sculpt must be scaled to a wanted measurement."""
    if measure.measure == "none" or measure.wanted_mm is None:
        return 1.0
    if settings.width_mm or settings.depth_mm or settings.height_mm:
        raise InputError(
            "the sculpt cannot be scaled to a size and to a measurement: leave out size.wanted_mm, or width, "
            "depth and height of the sculpt"
        )
    from buckwright.pose.size.measuring import measured_mm

    return measure.wanted_mm / measured_mm(Mesh(mesh.vertices * scale, mesh.faces), measure)


def whole_solid(arrived: EnteredSculpt) -> Manifold:
    """The sculpt as a solid in its own axes, mm; an open one is closed down to its lowest point along z.

    Raises
    ------
    MeshError
        The sculpt cannot be made into a solid.
    """
    entered = arrived.entered
    if entered.body is not None:
        return entered.body
    closed = solidify(entered.mesh, floor_z=float(entered.mesh.bounds[0, 2]), known=entered)
    return as_solid(closed.mesh)


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
