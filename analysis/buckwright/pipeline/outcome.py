"""What a run gives back: meshes, arrays, findings, report; it can be saved and shown in a notebook."""

import base64
import html
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.findings import Finding
from buckwright.job import Job
from buckwright.mesh.triangles import Mesh
from buckwright.output.summary import Summary
from buckwright.pipeline.commands import Command, stages_for
from buckwright.pipeline.drawing import drawn_now
from buckwright.pipeline.job_sheet import add_job_sheet
from buckwright.pipeline.publishing import Places, hashes_of
from buckwright.pipeline.telling import told_arrays, told_of
from buckwright.stage import Told

__all__ = ["FaceValues", "FormedSheet", "Outcome"]


class FaceValues:
    """Values for each face of the sculpt as it was given; each is an attribute and a key.

    `draft_deg`, `state` (0 free, 1 tight, 2 trapped, 3 base, -1 gone), `undercut_mm`, `sideways_mm`,
    `region`, and after `make` also `pocket_mm`, `vent_reach_mm`, `thickness_mm`, `contact_order`; nan where
    nothing is known.
    """

    def __init__(self, values: Mapping[str, NDArray[Any]]) -> None:
        self._values = dict(values)

    def __getattr__(self, name: str) -> NDArray[Any]:
        """Values by name, (F,)."""
        if name.startswith("_") or name not in self._values:
            raise AttributeError(f"there are no values {name!r}; there are {', '.join(self._values)}")
        return self._values[name]

    def __getitem__(self, name: str) -> NDArray[Any]:
        """Values by name, (F,)."""
        return self._values[name]

    def __iter__(self) -> Any:
        """Names of the values."""
        return iter(self._values)

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._values]

    def __repr__(self) -> str:
        count = len(next(iter(self._values.values()), ()))
        return f"FaceValues of {count:,} faces: {', '.join(self._values)}"


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class FormedSheet:
    """The sheet as it is forecast, in the frame of the buck.

    Attributes
    ----------
    mesh : its triangles, mm
    thickness_mm : (N,) float64, at its nodes
    contact : (N,) float64, when each node touches, 0 first to 1 last; -1 in the frame, nan where it never
        does
    weakest_mm, weakest_at_mm : the least mean thickness over a disc of 10 mm, and where
    thin_mm : 5 % of the part is thinner
    """

    mesh: Mesh
    thickness_mm: NDArray[np.float64]
    contact: NDArray[np.float64]
    weakest_mm: float
    weakest_at_mm: tuple[float, float, float]
    thin_mm: float

    def __repr__(self) -> str:
        return f"FormedSheet of {len(self.thickness_mm):,} nodes, weakest spot {self.weakest_mm:.2f} mm"


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Outcome:
    """What a run gave.

    Attributes
    ----------
    command : what was asked
    job : with these settings
    results : the results of the stages by name
    findings : worst first
    report : the tree of report.json
    summary : the same for people
    files : everything that was written, those for people first
    releases : whether the part releases or can be flexed off
    """

    command: Command
    job: Job
    results: Mapping[str, Any]
    findings: tuple[Finding, ...]
    report: dict[str, Any]
    summary: Summary
    files: tuple[Path, ...]
    releases: bool

    @property
    def buck(self) -> Mesh:
        """The buck, standing on z = 0, mm, as its files hold it."""
        stored = self._result("buck", "make").stored
        return Mesh(stored.vertices, stored.faces)

    @property
    def sculpt(self) -> Mesh:
        """The sculpt in the frame of the buck, closed and scaled, mm."""
        from buckwright.pose.posing import stood

        return stood(self._result("posed", "look or make").mesh, self._told().stand)

    @property
    def sheet(self) -> FormedSheet:
        """The formed sheet."""
        run = self._result("formed", "make or forecast").forecast
        return FormedSheet(
            Mesh(run.points, run.triangles),
            run.thickness_mm,
            run.contact,
            run.figures.weakest_mm,
            run.figures.weakest_at_mm,
            run.figures.thin_mm,
        )

    @property
    def faces(self) -> FaceValues:
        """Values for each face of the sculpt as it was given."""
        count = self._result("posed", "look or make").sculpt.mesh.face_count
        arrays = told_arrays(stages_for(self.command), self._told())
        whole = {name: v for name, v in arrays.items() if np.ndim(v) == 1 and len(v) == count}
        return FaceValues({k: v for k, v in whole.items() if not k.startswith(("sheet_", "vent_kind"))})

    def save(self, folder: str | Path, *, pictures: bool = True) -> tuple[Path, ...]:
        """Write everything for people into a folder, all or nothing.

        Parameters
        ----------
        folder : made if it is missing
        pictures : False leaves them out

        Returns
        -------
        The files.

        Raises
        ------
        OutputError
            They cannot be written; nothing is left behind.
        """
        stages = [
            stage
            for stage in stages_for(self.command)
            if not self.command.tells or stage.name in self.command.tells
        ]
        files = drawn_now(stages, self._told(), lambda papers: pictures or not papers.picture)
        report = self.report | {"files": hashes_of(files)}
        if self.command.job_sheet:
            add_job_sheet(self.summary.outcome, self._told(), self.summary.answers, report, files)
        return Places(self.command.name, Path(folder)).write(files, report, dict, None)

    def __repr__(self) -> str:
        answers = [f"{question}: {words}" for question, words in self.summary.answers]
        found = [f"{finding.severity}: {finding.words}" for finding in self.findings[:3]]
        facts = "\n  ".join((*answers, *self.summary.facts, *found))
        return f"{self.summary.title}: {self.summary.outcome}\n  {facts}"

    def _repr_html_(self) -> str:
        """For a notebook: outcome, a picture, the first findings."""
        told = self._told()
        stages = [stage for stage in stages_for(self.command) if any(p.picture for p in stage.papers)]
        known = [stage for stage in stages if told.get(stage.gives) is not None]
        image = ""
        if known:
            chief = next((stage for stage in known if stage.name == "buck"), known[-1])
            data = next(iter(drawn_now([chief], told, lambda papers: papers.picture).values()))
            image = (
                f'<img style="max-width:640px" src="data:image/png;base64,{base64.b64encode(data).decode()}">'
            )
        rows = "".join(
            f"<li><b>{finding.severity}</b> {html.escape(finding.words)}</li>"
            for finding in self.findings[:6]
        )
        title = html.escape(f"{self.summary.title}: {self.summary.outcome}")
        answers = [f"{question}: {words}" for question, words in self.summary.answers]
        facts = "<br>".join(html.escape(fact) for fact in (*answers, *self.summary.facts))
        return f"<p><b>{title}</b><br>{facts}</p>{image}<ul>{rows}</ul>"

    def _told(self) -> Told:
        return told_of(self.job, self.results)

    def _result(self, name: str, commands: str) -> Any:
        result = self.results.get(name)
        if result is None:
            raise InputError(f"{self.command.name} has not worked this out; use {commands}")
        return result
