"""The one place that knows where the library lies, and all that Blender's own process takes from it.

The library comes as the sub-package `library`. Only light parts are imported here (what the stages declare,
no geometry); everything that needs more than numpy runs in the child process. This module must not import
Blender.
"""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buckwright import __version__
    from buckwright.errors import BuckwrightError, JobError
    from buckwright.findings import SEVERITIES, FindingKind, counted, percent, rounded, verb
    from buckwright.forming.forecast.heat_map import MOST_HEAT
    from buckwright.forming.forecast.heat_map import rows_of as heat_rows
    from buckwright.forming.sheets.own import known_sheets
    from buckwright.job.files import job_from, read_job, renamed, write_job
    from buckwright.job.job import as_plain
    from buckwright.mesh.texture_arrays import TEXTURE_ARRAYS
    from buckwright.mesh.units import LARGEST_MM, LIKELY_MM, MM_PER_UNIT, SMALLEST_MM
    from buckwright.output.canvas.palette import STATE_COLOURS
    from buckwright.output.journal import alive
    from buckwright.pipeline.commands import COMMANDS, settings_for
    from buckwright.pipeline.pull_notes import note_pull
    from buckwright.pose.findings import way_words
    from buckwright.settings import Setting, settings_of
    from buckwright.stage import ColorMap
    from buckwright.stages import all_settings, color_maps, finding_kinds, tables
    from buckwright.workshop.log.book import log_path
    from buckwright.workshop.log.record import PullRecord
else:
    from ..library.buckwright import __version__
    from ..library.buckwright.errors import BuckwrightError, JobError
    from ..library.buckwright.findings import SEVERITIES, FindingKind, counted, percent, rounded, verb
    from ..library.buckwright.forming.forecast.heat_map import MOST_HEAT
    from ..library.buckwright.forming.forecast.heat_map import rows_of as heat_rows
    from ..library.buckwright.forming.sheets.own import known_sheets
    from ..library.buckwright.job.files import job_from, read_job, renamed, write_job
    from ..library.buckwright.job.job import as_plain
    from ..library.buckwright.mesh.texture_arrays import TEXTURE_ARRAYS
    from ..library.buckwright.mesh.units import LARGEST_MM, LIKELY_MM, MM_PER_UNIT, SMALLEST_MM
    from ..library.buckwright.output.canvas.palette import STATE_COLOURS
    from ..library.buckwright.output.journal import alive
    from ..library.buckwright.pipeline.commands import COMMANDS, outcome_of, settings_for
    from ..library.buckwright.pipeline.pull_notes import note_pull
    from ..library.buckwright.pose.findings import way_words
    from ..library.buckwright.settings import Setting, settings_of
    from ..library.buckwright.stage import ColorMap
    from ..library.buckwright.stages import all_settings, color_maps, finding_kinds, tables
    from ..library.buckwright.workshop.log.book import log_path
    from ..library.buckwright.workshop.log.record import PullRecord

__all__ = [
    "COMMANDS",
    "FINISHED",
    "HOST",
    "LARGEST_MM",
    "LIKELY_MM",
    "LOG",
    "MM_PER_UNIT",
    "MOST_HEAT",
    "SEVERITIES",
    "SMALLEST_MM",
    "STATE_COLOURS",
    "TEXTURE_ARRAYS",
    "TUNE",
    "BuckwrightError",
    "ColorMap",
    "FindingKind",
    "JobError",
    "PullRecord",
    "Setting",
    "__version__",
    "alive",
    "all_settings",
    "as_plain",
    "color_maps",
    "counted",
    "finding_kinds",
    "heat_rows",
    "job_from",
    "known_sheets",
    "log_path",
    "note_pull",
    "outcome_of",
    "percent",
    "read_job",
    "renamed",
    "rounded",
    "settings_for",
    "settings_of",
    "tables",
    "verb",
    "way_words",
    "write_job",
]

FINISHED = "finished"
"""The command of the host that checks a finished buck and writes it."""
LOG = "log"
"""The command of the host that tells what a log of pulls says."""
TUNE = "tune"
"""The command of the host that searches for better settings."""
HOST = Path(__file__).parents[1] / "library" / "buckwright" / "host.py"
"""What the child process runs."""
