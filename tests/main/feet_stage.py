"""A stage as a contributor would add it: rubber feet under the buck. Everything about it stands here."""

from dataclasses import dataclass

import attrs
import numpy as np
from numpy.typing import NDArray

from buckwright.findings import FindingKind, counted
from buckwright.settings import number, whole
from buckwright.stage import Answer, ColorMap, Papers, Stage


@attrs.frozen(kw_only=True)
class FeetSettings:
    """Feet: what the buck stands on."""

    count: int = whole(4, low=3, high=12, label="Number of Feet", tip="How many feet are glued on")
    height_mm: float | None = number(
        None,
        low=1,
        high=50,
        unit="mm",
        label="Foot Height",
        tip="Height of a foot",
        automatic="a twentieth of the buck's height",
        start=5.0,
        front=True,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Feet2:
    """Feet on a circle: places (N, 2) in mm, and their height."""

    places: NDArray[np.float64]
    height_mm: float


FEW = FindingKind(
    slug="few-feet",
    title="Few feet",
    why="A buck on three feet rocks.",
    rule="Told below four feet.",
    source="house rule",
    remedies=("Use four feet.",),
)
CALLS = []


def _plan(blank, feet, clock):
    with clock.step("planning the feet"):
        CALLS.append(feet)
        turn = 2.0 * np.pi * np.arange(feet.count) / feet.count
        ring = 0.4 * float(blank.mesh.size[:2].min()) * np.column_stack([np.cos(turn), np.sin(turn)])
        height = feet.height_mm or 0.05 * float(blank.mesh.size[2])
        return Feet2(ring, height)


def _findings(planned, told):
    count = len(planned.places)
    return [FEW.found("note", f"The buck stands on {counted(count, 'foot', 'feet')}.")] if count < 4 else []


def _arrays(planned, told):
    sources = told.sources()
    reach = np.full(len(sources.source), np.nan)
    there = sources.source >= 0
    apart = np.linalg.norm(sources.middles[there, None, :2] - planned.places, axis=2)
    reach[there] = apart.min(axis=1)
    return {"foot_reach_mm": reach}


FEET = Stage(
    name="feet",
    title="planning the feet",
    gives="standing",
    needs=("blank", "feet"),
    run=_plan,
    tables={"feet": FeetSettings},
    keep=True,
    kinds=(FEW,),
    findings=_findings,
    sections=lambda planned, told: {"feet": {"places": planned.places, "height_mm": planned.height_mm}},
    answers=lambda planned, told: [Answer("Stands", f"on {len(planned.places)} feet")],
    facts=lambda planned, told: [f"{len(planned.places)} feet {planned.height_mm:.1f} mm high"],
    papers=(Papers(make=lambda planned, told: {"feet.csv": b"x,y\n" + repr(planned.places).encode()}),),
    arrays=_arrays,
    automatic=lambda planned: {"feet.height_mm": planned.height_mm},
    maps=(ColorMap(array="foot_reach_mm", label="Distance to Foot", tip="How far a foot is", unit="mm"),),
)
