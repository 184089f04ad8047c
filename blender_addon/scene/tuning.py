"""The search for better settings: run by the child, its best three kept in the scene, one taken over."""

import json
from pathlib import Path
from typing import Any

import bpy

from ..bridge.library import TUNE, BuckwrightError, as_plain, job_from
from . import exports, job_tables, results, running, settings
from .kept_folder import kept_folder
from .plain_words import sentence, spoken
from .snapshot import Refused

__all__ = ["TuneWork", "keep", "take", "told"]

_KEPT = 3
"""So many of the best are shown."""


def folder_of(context: bpy.types.Context) -> Path:
    """Where a search keeps what it has tried, so that the next one goes on.

    Raises
    ------
    Refused
        Nothing can be written there.
    """
    return kept_folder("search") / exports.title(context)


def told(scene: bpy.types.Scene) -> dict[str, Any]:
    """What the last search found: `ranked`, `own`, `page`; empty before."""
    return dict(json.loads(results.of(scene).tuned or "{}"))


def keep(scene: bpy.types.Scene, report: dict[str, Any]) -> None:
    """Keep the best of a search."""
    found = report["tune"]
    found |= {"ranked": found["ranked"][:_KEPT], "left": spoken(found.get("left", ""))}
    results.of(scene).tuned = json.dumps(found)


def take(scene: bpy.types.Scene, number: int) -> str:
    """Set the scene as a variant is; what to tell the user.

    Raises
    ------
    Refused
        There is no such variant, or it does not fit the settings any more; in words.
    """
    ranked = told(scene).get("ranked", [])
    if not 1 <= number <= len(ranked):
        raise Refused(f"There is no variant {number}: search first")
    one = ranked[number - 1]
    changes: dict[str, dict[str, Any]] = {}
    for name, value in one["changes"].items():
        table, _, key = name.partition(".")
        changes.setdefault(table, {})[key] = value
    try:
        job = job_from(job_tables.of(scene))
        before, after = as_plain(job), as_plain(job.evolved(**changes))
    except BuckwrightError as error:
        raise Refused(sentence(str(error))) from error
    changed = {table: _differing(before[table], after[table]) for table in changes}
    settings.write_tables(scene, changed, whole=False)
    return f"Set: {one['title']}. Make the buck again"


def _differing(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """What is another afterwards, by key; None for what was set aside, as a frame is by a gap."""
    keys = [*after, *(key for key in before if key not in after)]
    return {key: after.get(key) for key in keys if after.get(key) != before.get(key)}


class TuneWork(running.Work):
    """The child tries variants, one after another; what it has tried stays when it is stopped."""

    def __init__(self, context: bpy.types.Context, variants: int) -> None:
        """Start.

        Raises
        ------
        Refused
            In words: nothing can be done as things stand.
        """
        self._variants, self._share = variants, 0.0
        super().__init__(context, TUNE, folder_of(context))
        self.title = "Comparing settings"

    def _request(self, out: Path | None, prefix: str) -> dict[str, Any]:
        return super()._request(out, prefix) | {"variants": self._variants}

    def poll(self) -> bool:
        """Read what the child says; whether it has ended."""
        gone = self._worker.ended()
        for message in self._worker.messages():
            if message.get("kind") == "step":
                name = str(message["name"])
                self.step = name[:1].upper() + name[1:]
                self._share = max(self._share, float(message["share"]))
            else:
                self._last = message
        return gone

    @property
    def whole(self) -> float:
        """How much of the search is done, 0..1."""
        return self._share

    def found(self, context: bpy.types.Context) -> dict[str, Any]:
        """The report, once the child has ended; raises as `Work.result`."""
        self._must_be_done()
        self._same_sculpt(context)
        return dict(json.loads(Path(self._last["report"]).read_text(encoding="utf-8")))
