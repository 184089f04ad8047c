"""The stage that brings the bucks of other jobs: made anew from their jobs, or read as they were made."""

import json
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buckwright.stage import Stage

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.workshop.group.neighbours.neighbour import Neighbour

__all__ = ["NEIGHBOURS"]


def _bring(others: str, clock: "Clock") -> "tuple[Neighbour, ...]":
    from buckwright.errors import JobError
    from buckwright.workshop.group.neighbours.neighbour import made_file, named_bucks

    found = []
    for file, copies in named_bucks(others):
        path = made_file(file)
        if not path.is_file():
            raise JobError(f"group.others: there is no file {path}")
        made = path.suffix.lower() != ".toml"
        found.append(_read(path, copies) if made else _made_anew(path, copies, clock))
    return tuple(found)


def _made_anew(path: Path, copies: int, clock: "Clock") -> "Neighbour":
    """The blank of a job, without forecast and papers."""
    from buckwright.errors import JobError
    from buckwright.job.files import read_job
    from buckwright.pipeline.engine import Engine
    from buckwright.pipeline.settled import settled
    from buckwright.pipeline.store import Store
    from buckwright.stages import all_stages
    from buckwright.workshop.group.neighbours.neighbour import neighbour_of

    job = read_job(path).evolved(forecast={"quality": "off"}, group={"others": "", "copies": 1})
    with Engine(all_stages(), settled(job), clock, Store(None, clock)) as engine:
        blank = engine.get("blank")
        # the underside hangs on vents, which take longer than all the rest
        fixed = engine.get("grooved").fixings if job.underside.fixing == "screw" else None
    if blank.plan is None:
        raise JobError(f"group.others: {path} makes no base")
    return neighbour_of(
        job.job.name or path.parent.name,
        copies,
        blank.mesh,
        foot_mm=max(blank.plan.flange_z_mm, blank.plan.trim_z_mm),
        trim_mm=blank.plan.trim_z_mm,
        screws_mm=fixed.circles[:, :2] if fixed is not None and len(fixed.holes) else (),
    )


def _read(path: Path, copies: int) -> "Neighbour":
    """A buck as it was made; its heights from the report beside it, if there is one."""
    from buckwright.mesh.reading import read_sculpt
    from buckwright.mesh.triangles import Mesh
    from buckwright.mesh.units import mm_per
    from buckwright.mesh.welding import weld_equal
    from buckwright.workshop.group.neighbours.neighbour import MADE, neighbour_of

    base: dict[str, Any] = {}
    with suppress(OSError, ValueError):
        base = json.loads((path.parent / "report.json").read_text(encoding="utf-8")).get("base") or {}
    levels = {}
    if "trim_z_mm" in base:
        levels = {"trim_mm": base["trim_z_mm"], "foot_mm": max(base["flange_z_mm"], base["trim_z_mm"])}
    name = path.parent.name if path.name == MADE else path.stem
    made = read_sculpt(path)
    mesh, scale = weld_equal(made.mesh), mm_per(made.unit_in_file or "mm")
    return neighbour_of(name, copies, Mesh(mesh.vertices * scale, mesh.faces), **levels)


NEIGHBOURS = Stage(
    name="neighbours",
    title="bringing the other bucks",
    gives="neighbours",
    needs=("group.others",),
    run=_bring,
    wanted=lambda tables: bool(tables["group"].others.strip()),
    by_value=True,
)
