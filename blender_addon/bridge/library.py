"""The one place that knows where the library lies, and all that Blender's own process takes from it.

The library comes as the sub-package `library`. Only light parts are imported here (settings, no geometry);
everything that needs more than numpy runs in the child process. This module must not import Blender.
"""

import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buckwright import __version__
    from buckwright.errors import BuckwrightError, JobError
    from buckwright.job import Job, job_from, read_job, write_job
    from buckwright.output.canvas.palette import STATE_COLOURS
else:
    from ..library.buckwright import __version__
    from ..library.buckwright.errors import BuckwrightError, JobError
    from ..library.buckwright.job import Job, job_from, read_job, write_job
    from ..library.buckwright.output.canvas.palette import STATE_COLOURS

__all__ = [
    "HOST",
    "STATE_COLOURS",
    "BuckwrightError",
    "Job",
    "JobError",
    "__version__",
    "job_from",
    "read_job",
    "sheet_titles",
    "sheets",
    "write_job",
]

HOST = Path(__file__).parents[1] / "library" / "buckwright" / "host.py"
"""What the child process runs."""


@cache
def sheets() -> dict[str, dict[str, Any]]:
    """The library's table of sheets: a row for each name, in the order of the table."""
    table = HOST.parent / "forming" / "sheets" / "sheets.toml"
    return tomllib.loads(table.read_text(encoding="utf-8"))


def sheet_titles() -> dict[str, str]:
    """Name and title of every sheet that the library knows, in the order of its table."""
    return {name: row["title"] for name, row in sheets().items()}
