"""Every setting of the main job, and its file."""

from buckwright.job.files import job_from, read_job, write_job
from buckwright.job.job import Job

__all__ = ["Job", "job_from", "read_job", "write_job"]
