"""Every setting of the main job, and its file."""

from buckwright.job.files import job_from, read_job, write_job
from buckwright.job.settings import (
    BaseSettings,
    DraftSettings,
    FillSettings,
    FitSettings,
    ForecastSettings,
    Job,
    JobText,
    PullSettings,
    SculptSettings,
    SheetSettings,
    VentSettings,
)

__all__ = [
    "BaseSettings",
    "DraftSettings",
    "FillSettings",
    "FitSettings",
    "ForecastSettings",
    "Job",
    "JobText",
    "PullSettings",
    "SculptSettings",
    "SheetSettings",
    "VentSettings",
    "job_from",
    "read_job",
    "write_job",
]
