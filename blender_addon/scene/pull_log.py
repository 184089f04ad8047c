"""The log of pulls: beside the file of the scene, written here, weighed by the child."""

import json
from pathlib import Path
from typing import Any

import bpy

from ..bridge.library import LOG, BuckwrightError, job_from, log_path, note_pull, write_job
from ..bridge.worker import Worker, missing_parts
from . import exports, job_tables, results, run_folders, running
from .child import child_environment, child_python
from .plain_words import sentence
from .snapshot import Refused

__all__ = ["LogWork", "keep", "note", "path_of", "told", "why_not"]

_SCULPT = "sculpt.npz"  # the job must name one; the log asks nothing of it


def why_not(context: bpy.types.Context) -> str:
    """Why there can be no log now, in words; empty if there can."""
    if context.scene is None or not bpy.data.filepath:
        return "Save the file first: the log stands beside it"
    return "A run is in progress: wait for it, or press Esc" if running.now() is not None else ""


def path_of(context: bpy.types.Context) -> Path:
    """Where the pulls stand: beside the saved file, called after the job or the sculpt."""
    return log_path(Path(bpy.data.filepath).parent, f"{exports.title(context)}.stl")


def note(context: bpy.types.Context, values: dict[str, Any]) -> int:
    """Write a pull down; its number.

    Raises
    ------
    Refused
        A value cannot be used, or the log cannot be read or written; in words.
    """
    assert context.scene is not None
    try:
        job = job_from(job_tables.of(context.scene, sculpt=_SCULPT))
        return note_pull(job, values, path=path_of(context))
    except BuckwrightError as error:
        raise Refused(sentence(str(error))) from error


def told(scene: bpy.types.Scene) -> dict[str, Any]:
    """What the log said when it was read last: `pulls`, `lines`, `next`; empty before."""
    return dict(json.loads(results.of(scene).log or "{}"))


def keep(scene: bpy.types.Scene, report: dict[str, Any]) -> None:
    """Keep what the log says."""
    results.of(scene).log = json.dumps({name: report[name] for name in ("pulls", "lines", "next")})


class LogWork(running.Work):
    """The child weighs the log; no sculpt goes with it."""

    def __init__(self, context: bpy.types.Context) -> None:
        """Start.

        Raises
        ------
        Refused
            In words: nothing can be done as things stand.
        """
        assert context.scene is not None
        if words := why_not(context):
            raise Refused(words)
        if missing := missing_parts():
            raise Refused(f"The extension is incomplete ({', '.join(missing)} missing): install it again")
        self.command, self.title, self.step = LOG, "Reading the log", "Reading"
        self._last: dict[str, Any] = {}
        self._folder = run_folders.make()
        try:
            text = write_job(job_from(job_tables.of(context.scene, sculpt=_SCULPT)))
            (self._folder / "job.toml").write_text(text, encoding="utf-8")
            request = {
                "command": LOG,
                "job": str(self._folder / "job.toml"),
                "results": str(self._folder / "results"),
                "log": str(path_of(context)),
            }
            python, environment = child_python(), child_environment()
            self._worker = Worker(request, self._folder, python=python, environment=environment)
        except (BuckwrightError, OSError) as error:
            self._remove()
            raise Refused(sentence(str(error))) from error
        running.hold(self)

    def poll(self) -> bool:
        """Read what the child says; whether it has ended."""
        gone = self._worker.ended()
        self._last = next(
            (one for one in reversed([*self._worker.messages()]) if one.get("kind") != "step"), self._last
        )
        return gone

    @property
    def whole(self) -> float:
        """How far it is; nobody can tell."""
        return 0.0

    def result(self, _context: bpy.types.Context) -> dict[str, Any]:
        """What the log says, once the child has ended; raises as `Work.result`."""
        self._must_be_done()
        return dict(json.loads(Path(self._last["report"]).read_text(encoding="utf-8")))
