"""The stage that fills what the sheet cannot leave."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.shape.fill import findings
from buckwright.shape.fill.settings import FillSettings
from buckwright.stage import Figure, Stage, Told, entry_of

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.posing import Posed
    from buckwright.shape.fill.filled import Filled
    from buckwright.survey.surveying import Surveyed

__all__ = ["FILL"]

# A sculpt smaller than this was read in a wrong unit: no base can be built under it. House rule.
_LEAST_SCULPT_MM = 1.0


def _fill(posed: "Posed", surveyed: "Surveyed", fill: FillSettings, clock: "Clock") -> "Filled":
    from buckwright.errors import MeshError
    from buckwright.mesh.units import doubtful_size
    from buckwright.shape.fill.filled import fill_sculpt

    doubt = doubtful_size(posed.mesh.size)
    if doubt is not None and float(posed.mesh.size.max()) < _LEAST_SCULPT_MM:
        raise MeshError(f"no buck can be made of this. {doubt} Specify the unit or a target size")
    with clock.step("filling undercuts"):
        return fill_sculpt(
            posed.mesh,
            posed.body,
            surveyed.columns,
            surveyed.of_faces.draft_deg,
            surveyed.locked_faces,
            wall_deg=surveyed.wanted_deg,
            fill=fill,
            tick=clock.tick,
        )


def _findings(filled: "Filled", _told: Told) -> "list[Finding]":
    return findings.about_fill(mode=filled.figures.mode, added_mm3=filled.figures.added_volume_mm3)


def _sections(filled: "Filled", _told: Told) -> Mapping[str, Any]:
    return {"fill": filled.figures.to_dict()}


def _cm3(volume_mm3: float | None) -> float | None:
    return None if volume_mm3 is None else volume_mm3 / 1000.0


FILL = Stage(
    name="fill",
    title="filling undercuts",
    gives="filled",
    needs=("posed", "surveyed", "fill"),
    run=_fill,
    tables={"fill": FillSettings},
    keep=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    automatic=lambda filled: {"fill.cell_mm": filled.cell_mm},
    figures=(
        Figure(
            name="filled_cm3",
            label="Filled",
            unit="cm3",
            of=lambda report: _cm3(entry_of("fill.added_volume_mm3")(report)),
            better="less",
            digits=1,
        ),
    ),
)
