"""The job as it counts: what was left out and the machine knows is filled in."""

from buckwright.job import Job
from buckwright.workshop.machine.filling import left_out

__all__ = ["settled"]


def settled(job: Job) -> Job:
    """A copy with what the machine gives; the job itself where no machine is named.

    Raises
    ------
    JobError
        The machine is not known, or what is set contradicts what it is.
    """
    given = left_out(job.tables)
    return job.evolved(**given) if given else job
