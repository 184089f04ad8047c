"""A body read through the door and placed as it lies in the sculpt's own axes; what it asks of the shape."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from buckwright.clock import Clock
from buckwright.errors import InputError, MeshError
from buckwright.findings import Finding
from buckwright.mesh.door import enter
from buckwright.mesh.reading import read_sculpt
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.units import mm_per
from buckwright.pose.body.findings import BODY
from buckwright.pose.body.settings import BodySettings

__all__ = ["PlacedBody", "Room", "place_body", "room_of"]


@dataclass(frozen=True, slots=True, eq=False)
class PlacedBody:
    """A body that the part goes over or into.

    Attributes
    ----------
    mesh : checked; mm, in the sculpt's own axes
    closed : whether it has an inside
    findings : what its file gives to think about
    """

    mesh: Mesh
    closed: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What a body asks of the shape of the buck.

    Attributes
    ----------
    body : mm, in the sculpt's own axes
    room_mm : least distance of the part from it, padding and clearance
    grow : 'off', 'short' or 'all'
    to_widest : whether the part ends where the body is widest
    """

    body: Mesh
    room_mm: float
    grow: str
    to_widest: bool


def place_body(settings: BodySettings, sculpt_mm: float, clock: Clock) -> PlacedBody:
    """Read and check a body.

    Parameters
    ----------
    settings : the table [body], its file as a whole path
    sculpt_mm : millimetres per unit of the sculpt's file, without what a measurement makes of it
    clock : steps are told to it

    Raises
    ------
    MeshError
        The file cannot be used.
    """
    with clock.step("reading the body"):
        scale = sculpt_mm if settings.unit is None else mm_per(settings.unit)
        try:
            given = read_sculpt(Path(settings.file))
            entered = enter(given.mesh.transformed(np.diag([scale, scale, scale, 1.0])))
        except MeshError as error:
            raise MeshError(f"the body cannot be used: {error}") from error
    told = [*given.notes, *(repair.words for repair in entered.repairs), *entered.notes]
    found = tuple(BODY.found("note", f"In the body: {words[:1].lower()}{words[1:]}") for words in told)
    return PlacedBody(entered.mesh, entered.solid, found)


def room_of(body: PlacedBody, settings: BodySettings) -> Room | None:
    """What a body asks of the shape; None where it is only measured against.

    Raises
    ------
    InputError
        A shape is to grow away from a body that lies around it.
    """
    if settings.grow != "off" and settings.side == "outside":
        raise InputError(
            "the shape grows outwards, towards a body that lies around it: set body.grow to 'off', or "
            "body.side to 'inside'"
        )
    if settings.grow == "off" and settings.foot == "base":
        return None
    return Room(
        body.mesh,
        settings.padding_mm + settings.clearance_mm,
        settings.grow,
        settings.foot == "widest",
    )
