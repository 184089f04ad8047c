"""Buckwright: from a sculpt to a ready-to-print buck for vacuum forming.

>>> import buckwright as bw
>>> sculpt = bw.load("mask.stl", unit="mm")                 # doctest: +SKIP
>>> seen = bw.look(sculpt, pull={"direction": "z"})         # doctest: +SKIP
>>> seen.faces.draft_deg.min(), seen.findings[0].words      # doctest: +SKIP
>>> made = bw.make(sculpt, sheet={"material": "PETG", "thickness_mm": 1.0})   # doctest: +SKIP
>>> made.buck.vertices, made.sheet.thickness_mm, made.releases                # doctest: +SKIP
>>> made.save("out")                                        # doctest: +SKIP

load       a sculpt from a file, arrays or a trimesh; nothing is changed or written
look       survey it: draft, undercuts, whether a part would release
make       make the buck: fill, base, vents, channels, and a forecast of the sheet
forecast   only the forecast, on the buck of a sculpt or on a buck that exists (`on=`)
Job        all settings; `Job(sheet={"thickness_mm": 1.0})`, `job.evolved(...)`, `read_job("job.toml")`
settings_table   what can be set: 'sheet.thickness_mm' -> label, tip, unit, range
explain    what a finding means: `bw.explain("part-locks")`

The functions give an `Outcome`: `.buck`, `.sculpt` and `.sheet` hold meshes in millimetres, `.faces` values
for each face of the sculpt as it was given, `.findings` what you should know, worst first, `.report` every
figure; `.save(folder)` writes STL, 3MF, maps, pictures and report. Errors are of `BuckwrightError`; what is
wrong with the input is an `InputError` and says what to do.

Lengths are millimetres, angles degrees; names carry every other unit. The pull is +Z and the platen z = 0 in
the frame of the buck.
"""

TYPE_CHECKING = False  # as that of `typing`, without loading it: the command should begin at once
__version__ = "0.1.0"

if TYPE_CHECKING:
    from typing import Any

    from buckwright.api import explain, forecast, load, look, make, settings_table
    from buckwright.errors import (
        BuckwrightError,
        Cancelled,
        InputError,
        JobError,
        MeshError,
        OutputError,
        SolidError,
    )
    from buckwright.findings import Finding
    from buckwright.job import Job, read_job, write_job
    from buckwright.mesh.reading import Sculpt
    from buckwright.mesh.triangles import Mesh
    from buckwright.pipeline.outcome import Outcome

__all__ = [
    "BuckwrightError",
    "Cancelled",
    "Finding",
    "InputError",
    "Job",
    "JobError",
    "Mesh",
    "MeshError",
    "Outcome",
    "OutputError",
    "Sculpt",
    "SolidError",
    "__version__",
    "explain",
    "forecast",
    "load",
    "look",
    "make",
    "read_job",
    "settings_table",
    "write_job",
]

# Loaded when they are asked for: a program that only reads settings should not wait for geometry.
_HOMES = {
    **dict.fromkeys(("explain", "forecast", "load", "look", "make", "settings_table"), "api"),
    **dict.fromkeys(
        ("BuckwrightError", "Cancelled", "InputError", "JobError", "MeshError", "OutputError", "SolidError"),
        "errors",
    ),
    "Finding": "findings",
    "Job": "job",
    "Mesh": "mesh.triangles",
    "Outcome": "pipeline.outcome",
    "Sculpt": "mesh.reading",
    "read_job": "job",
    "write_job": "job",
}


def __getattr__(name: str) -> "Any":
    from importlib import import_module

    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
