"""The job sheet of a run: words of the job beside the figures of its report."""

from collections.abc import Sequence
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any

from buckwright.errors import JobError
from buckwright.pipeline.publishing import hashes_of
from buckwright.stage import Told

if TYPE_CHECKING:
    from buckwright.mesh.triangles import Mesh
    from buckwright.output.job_sheet.solid_view.scene import FormedShape, SolidScene

__all__ = ["add_job_sheet", "light_buck", "solid_scene"]

_CLEAR_MM = 0.4
"""How far before the sheet the trim line is drawn, so that it does not flicker."""


def add_job_sheet(
    outcome: str,
    told: Told,
    answers: Sequence[tuple[str, str]],
    report: dict[str, Any],
    files: dict[str, bytes],
    *,
    prefix: str = "",
    buck: "Mesh | None" = None,
) -> None:
    """Put the job sheet among the files of a run, and its hash into the report.

    Parameters
    ----------
    outcome : what the summary leads with
    told : job and results
    answers : questions and answers that the summary leads with
    report : the tree of report.json; its `files` gain an entry, and it says what the page weighs
    files : by name with the prefix; pictures among them are put into the sheet
    prefix : what the names of the files begin with
    buck : the buck with fewer triangles (see `light_buck`), worked out here if None
    """
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.output.job_sheet.fitting import fitted
    from buckwright.output.job_sheet.page import JobWords, job_sheet_html

    job = told.job
    words = JobWords(
        title=told.title,
        number=job.job.number,
        story=job.job.story,
        sheet=f"{material_of(job.sheet.material).title}, {job.sheet.thickness_mm:g} mm",
        material=job.sheet.material,
        use=job.job.use,
        vacuum=job.machine.vacuum or "",
        outcome=outcome,
        answers=answers,
        pulls=_pulls(job),
    )
    pictures = {name.removeprefix(prefix): data for name, data in files.items() if name.endswith(".png")}
    scene = solid_scene(told, buck) if pictures else None
    made = fitted(partial(job_sheet_html, words, report), pictures, scene, of=_triangles(told, scene))
    sheet = {f"{prefix}job_sheet.html": made.data}
    files.update(sheet)
    report["job_sheet"] = made.to_dict()
    report["files"].update(hashes_of(sheet))


def light_buck(told: Told) -> "Mesh":
    """The buck with no more triangles than the job sheet shows.

    Parameters
    ----------
    told : results, the buck among them

    Returns
    -------
    Mesh : mm
    """
    from buckwright.output.job_sheet.solid_view.scene import lighter

    return lighter(told.results["buck"].stored)


def solid_scene(told: Told, light: "Mesh | None" = None) -> "SolidScene | None":
    """What the job sheet can turn: the buck with its vents, the trim line, the formed sheet.

    Parameters
    ----------
    told : job and results
    light : see `light_buck`, worked out here if None

    Returns
    -------
    SolidScene or None : None without a buck
    """
    import numpy as np

    from buckwright.output.job_sheet.solid_view.scene import SolidScene

    buck, vented, edged = told.get("buck"), told.get("vented"), told.get("edged")
    if buck is None:
        return None
    marks = () if vented is None else vented.marks()
    vents = np.array([(*mark.top_mm, mark.diameter_mm) for mark in marks], np.float64).reshape(-1, 4)
    rims = () if edged is None else edged.rims
    rings = [rim.curve.beside(_CLEAR_MM) for _, rim in rims]
    lines = tuple(np.vstack([ring, ring[:1]]) for ring in rings)
    return SolidScene(light_buck(told) if light is None else light, vents, lines, _formed_shape(told))


def _triangles(told: Told, scene: "SolidScene | None") -> int:
    """How many there are of buck and sheet, before any was left out."""
    if scene is None:
        return 0
    buck: Mesh = told.results["buck"].stored
    return scene.triangles - scene.buck.face_count + buck.face_count


def _formed_shape(told: Told) -> "FormedShape | None":
    import numpy as np

    from buckwright.mesh.triangles import Mesh
    from buckwright.output.job_sheet.solid_view.scene import FormedShape

    formed, edged = told.get("formed"), told.get("edged")
    if formed is None:
        return None
    run = formed.forecast
    mesh = Mesh(run.points, run.triangles)
    part = np.ones(mesh.face_count, np.bool_) if edged is None else edged.keeps(mesh.centroids())
    order = np.where(run.contact < 0.0, np.nan, run.contact)
    return FormedShape(mesh, run.thickness_mm, order, run.settings.sheet_mm, part)


def _pulls(job: Any) -> tuple[str, ...]:
    """What the log beside the job tells; nothing where there is none, or it cannot be read."""
    from buckwright.pipeline.pull_log import log_lines

    with suppress(JobError):
        return log_lines(job)
    return ()
