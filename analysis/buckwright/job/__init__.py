"""Every setting of the main job, and its file."""

from buckwright.job.files import job_from, read_job, write_job
from buckwright.job.job import Job, name_after

__all__ = ["Job", "job_from", "name_after", "read_job", "write_job"]
