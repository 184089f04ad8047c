"""The stages of the body: it is read and placed, and what it asks of the shape is handed on."""

from typing import TYPE_CHECKING

from buckwright.pose.body.findings import BODY as BODY_NOTE
from buckwright.pose.body.settings import BodySettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.body.placing import PlacedBody, Room
    from buckwright.pose.entering import EnteredSculpt

__all__ = ["BODY", "ROOM"]


def _place(entered: "EnteredSculpt", body: BodySettings, clock: "Clock") -> "PlacedBody":
    from buckwright.pose.body.placing import place_body

    return place_body(body, entered.scale / entered.factor, clock)


def _room(placed: "PlacedBody | None", body: BodySettings, clock: "Clock") -> "Room | None":
    """None where the shape does not hang on the body."""
    from buckwright.pose.body.placing import room_of

    clock.ask()
    return None if placed is None else room_of(placed, body)


def _findings(placed: "PlacedBody", _told: Told) -> "list[Finding]":
    return list(placed.findings)


BODY = Stage(
    name="body",
    title="reading the body",
    gives="placed",
    needs=("entered", "body"),
    run=_place,
    tables={"body": BodySettings},
    wanted=lambda tables: bool(tables["body"].file),
    kinds=(BODY_NOTE,),
    findings=_findings,
)
ROOM = Stage(
    name="room",
    title="asking what the body needs",
    gives="room",
    needs=("placed", "body"),
    run=_room,
    by_value=True,
)
