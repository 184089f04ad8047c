"""The public face: load, look, make, forecast, and what can be set and found."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from buckwright.errors import InputError, MeshError
from buckwright.findings import FindingKind
from buckwright.job import Job, name_after, read_job
from buckwright.mesh.reading import Sculpt, read_sculpt, sculpt_of
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.units import mm_per
from buckwright.pipeline.outcome import Outcome
from buckwright.pipeline.run import run
from buckwright.settings import Setting, known
from buckwright.stages import all_settings, finding_kinds

__all__ = ["explain", "forecast", "load", "look", "make", "settings_table"]

type Progress = Callable[[str, float], None]


def load(source: Any, *, unit: str | None = None) -> Sculpt:
    """Load a sculpt.

    Parameters
    ----------
    source : path of an STL, OBJ, PLY, OFF, 3MF, GLB or NPZ file; a pair of arrays, vertices (V, 3) and
        triangles (F, 3); or anything that has `vertices` and `faces`, such as a trimesh
    unit : 'mm', 'cm', 'm' or 'in'; None takes that of the file, else millimetres

    Returns
    -------
    Sculpt : in the numbers of the source; the mesh itself is `.mesh`

    Raises
    ------
    MeshError
        It cannot be read, holds no triangles, or has coordinates that are not finite.
    JobError
        No such unit.

    Examples
    --------
    >>> corners = [(0, 0, 0), (10, 0, 0), (0, 10, 0), (0, 0, 10)]
    >>> load((corners, [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]), unit="mm").mesh.face_count
    4
    """
    if unit is not None:
        mm_per(unit)
    if isinstance(source, Sculpt):
        return source if unit is None else sculpt_of(source.mesh, unit=unit)
    if isinstance(source, str | Path):
        sculpt = read_sculpt(Path(source))
        return sculpt if unit is None else Sculpt(sculpt.mesh, sculpt.format, unit, sculpt.notes)
    return sculpt_of(_mesh(source), unit=unit)


def look(
    source: Any,
    job: Job | None = None,
    *,
    out: str | Path | None = None,
    pictures: bool = True,
    progress: Progress | None = None,
    **tables: Mapping[str, Any],
) -> Outcome:
    """Survey a sculpt without making anything of it.

    Parameters
    ----------
    source : a sculpt (whatever `load` takes), a `Job`, or the path of a job.toml
    job : settings; those of the job file, or the defaults
    out : folder for look.ply, report.json and pictures; None writes nothing
    pictures : False leaves them out
    progress : called with the name of a step and the share of it that is done, 0 to 1
    **tables : settings that go before those of the job: `sheet={"thickness_mm": 1.0}`

    Returns
    -------
    Outcome : `.faces` has draft, state and undercut of each face, `.releases` whether the part would release

    Raises
    ------
    InputError
        The sculpt or a setting cannot be used.
    OutputError
        `out` cannot be written; nothing is left behind.
    """
    return run("look", _job(source, job, tables), out, pictures=pictures, progress=progress)


def make(
    source: Any,
    job: Job | None = None,
    *,
    out: str | Path | None = None,
    pictures: bool = True,
    progress: Progress | None = None,
    **tables: Mapping[str, Any],
) -> Outcome:
    """Make the buck of a sculpt and everything that belongs to it.

    Parameters
    ----------
    source, job, pictures, progress, **tables : as for `look`
    out : folder for buck.stl, buck.3mf, look.ply, report.json and pictures; None writes nothing

    Returns
    -------
    Outcome : `.buck` is the printable solid, `.sheet` the forecast, `.releases` whether the part releases

    Raises
    ------
    InputError
        The sculpt or a setting cannot be used.
    SolidError
        A solid operation failed.
    OutputError
        `out` cannot be written; nothing is left behind.
    """
    return run("make", _job(source, job, tables), out, pictures=pictures, progress=progress)


def forecast(
    source: Any = None,
    job: Job | None = None,
    *,
    on: Any = None,
    out: str | Path | None = None,
    pictures: bool = True,
    progress: Progress | None = None,
    **tables: Mapping[str, Any],
) -> Outcome:
    """Forecast the sheet, on the buck that a sculpt would get or on a buck that exists.

    Parameters
    ----------
    source, job, pictures, progress, **tables : as for `look`
    on : instead of a sculpt, a finished buck (whatever `load` takes), pull +Z; it is set down on z = 0
    out : folder for report.json and pictures; None writes nothing

    Returns
    -------
    Outcome : `.sheet` is the formed sheet

    Raises
    ------
    InputError
        Sculpt, frame, machine and buck do not fit together, or both a sculpt and a buck are given.
    OutputError
        `out` cannot be written; nothing is left behind.
    """
    if on is None:
        return run("forecast", _job(source, job, tables), out, pictures=pictures, progress=progress)
    if source is not None:
        raise InputError("give a sculpt, or a buck with on=, not both")
    from buckwright.shape.base.building import Blank

    settings = (Job() if job is None else job).evolved(**tables)
    given = {"blank": Blank(None, None, given=standing_buck(load(on)))}
    return run("forecast-on", settings, out, pictures=pictures, progress=progress, given=given)


def standing_buck(sculpt: Sculpt) -> Mesh:
    """A buck in millimetres, set down on z = 0."""
    scale = mm_per(sculpt.unit_in_file or "mm")
    low = float(sculpt.mesh.bounds[0, 2])
    return Mesh((sculpt.mesh.vertices - np.array([0.0, 0.0, low])) * scale, sculpt.mesh.faces)


def settings_table() -> dict[str, Setting]:
    """Every setting by 'table.key', with label, tip, unit, range and choices.

    Returns
    -------
    dict of Setting

    Examples
    --------
    >>> one = settings_table()["sheet.thickness_mm"]
    >>> one.label, one.unit, one.low, one.high
    ('Thickness', 'mm', 0.05, 10)
    """
    return all_settings()


def explain(slug: str) -> FindingKind:
    """What a finding means: why it matters, the rule and its source, what can be done.

    Parameters
    ----------
    slug : of the finding, for example 'part-locks'

    Returns
    -------
    FindingKind

    Raises
    ------
    InputError
        There is no such finding; the nearest one is named.

    Examples
    --------
    >>> explain("part-locks").title
    'The part locks on the buck'
    """
    kinds = finding_kinds()
    if slug in kinds:
        return kinds[slug]
    near = known(slug, list(kinds))
    hint = f"; did you mean {near}?" if near else f"; there are {', '.join(kinds)}"
    raise InputError(f"no finding is called {slug!r}{hint}")


def _job(source: Any, job: Job | None, tables: Mapping[str, Mapping[str, Any]]) -> Job:
    """The job that is meant: a job file, a job, or a sculpt with settings."""
    if source is None:
        raise InputError("there is no sculpt; give a path, a mesh, or a Job that names one")
    if isinstance(source, Job):
        if job is not None:
            raise InputError("give a Job or a sculpt with a Job, not two Jobs")
        return source.evolved(**tables)
    if isinstance(source, str | Path) and Path(source).suffix.lower() == ".toml":
        if job is not None:
            raise InputError("give a job file or a Job, not both")
        return read_job(source).evolved(**tables)
    settings = (Job() if job is None else job).evolved(**tables)
    if isinstance(source, str | Path):
        path = Path(source)
        named = settings.evolved(sculpt={"file": str(path.absolute())})
        return named if named.job.name else named.evolved(job={"name": name_after(path)})
    return settings.with_sculpt(load(source))


def _mesh(source: Any) -> Mesh:
    if isinstance(source, Mesh):
        return source
    if isinstance(source, tuple | list) and len(source) == 2:
        return Mesh.from_arrays(*source)
    vertices, faces = getattr(source, "vertices", None), getattr(source, "faces", None)
    if vertices is None or faces is None:
        raise MeshError(
            f"a sculpt is a path, a pair of arrays (vertices, triangles) or a mesh, got {type(source)}"
        )
    return Mesh.from_arrays(np.asarray(vertices), np.asarray(faces))
