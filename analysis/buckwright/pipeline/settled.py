"""The job as it counts: what was left out and the machine knows is filled in, files are found."""

from typing import Any

from buckwright.errors import JobError
from buckwright.job import Job
from buckwright.mesh.bounds import shown
from buckwright.settings import settings_of
from buckwright.workshop.group.neighbours.neighbour import named_bucks
from buckwright.workshop.machine.filling import left_out

__all__ = ["settled"]


def settled(job: Job) -> Job:
    """A copy with what the machine gives and with whole paths; the job itself where there is nothing of both.

    Raises
    ------
    JobError
        The machine is not known, or what is set contradicts what it is; a file that is named is not there.
    """
    given = left_out(job.tables) | _whole_paths(job)
    if job.group.others.strip():
        given["group"] = given.get("group", {}) | {"others": _whole_bucks(job)}
    return job.evolved(**given) if given else job


def _whole_bucks(job: Job) -> str:
    """Bucks of other jobs, whose files stand beside the job's, by whole paths."""
    bucks = [(job.folder / file, count) for file, count in named_bucks(job.group.others)]
    return "; ".join(f"{path.absolute()}: {count}" for path, count in bucks)


def _whole_paths(job: Job) -> dict[str, dict[str, Any]]:
    """Files beside the sculpt, which has a reader of its own, that the job names."""
    found: dict[str, dict[str, Any]] = {}
    for name, table in job.tables.items():
        for key, setting in settings_of(type(table)).items():
            file = getattr(table, key)
            if not setting.names_file or not file or name == "sculpt":
                continue
            path = job.folder / file
            if not path.is_file():
                raise JobError(f"[{name}] {key}: there is no file {shown(path)}")
            found[name] = {key: str(path.absolute())}
    return found
