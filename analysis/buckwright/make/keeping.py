"""The stage store: what a run worked out is kept, so that the next one redoes only what a change touches.

A stage is found again by a hash of all that it depends on: the content of the sculpt's file, the settings
that reach it, and the library itself. Whatever cannot be read, or was written by something else, is worked
out anew.
"""

import hashlib
import json
import os
import secrets
import zipfile
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

import attrs
import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright import __version__
from buckwright.job import Job
from buckwright.make.clock import Clock
from buckwright.make.packing import Packer, unpacked
from buckwright.relief.columns import Columns

__all__ = ["Keys", "Store"]

#: So many results of each stage are kept, the last used ones.
KEPT = 3

_ROOT = __name__.split(".make.")[0]  # the extension carries the library under another name

_RECORDS = {
    kind: f"{_ROOT}.{module}"
    for module, kinds in {
        "findings": ("Finding",),
        "forming.sheets.materials": ("Range",),
        "make.kept": ("KeptFill",),
        "make.looking": ("Looked", "Verdict"),
        "make.standing": ("Passage", "Standing"),
        "mesh.reading": ("Sculpt",),
        "mesh.repair": ("Repair",),
        "mesh.triangles": ("Mesh",),
        "relief.raster": ("Relief",),
        "shape.fill.draft_fill": ("Fill",),
        "shape.offset.allowance": ("Offset", "Place"),
        "shape.solid_arrays": ("SolidArrays",),
        "survey.draft": ("DraftStates",),
        "survey.pockets.find_pockets": ("Pocket", "Pockets"),
        "survey.pockets.taut_sheet": ("TautSheet",),
        "survey.pockets.work_grid": ("WorkGrid",),
        "survey.pull": ("PullCandidate", "PullSearch"),
        "survey.regions": ("UndercutRegion", "Undercuts"),
        "survey.release": ("Release",),
        "survey.undercut": ("Reach",),
    }.items()
    for kind in kinds
}
"""Dataclasses that stages are made of, and where each is: loaded only when a stage holds it."""

#: Settings of the base that its solid does not depend on.
_NOT_IN_THE_BLANK = ("sink_mm", "most_mm", "fixing", "fixings", "engrave")


class Keys:
    """Hashes of what each stage of a job depends on; empty where nothing is kept."""

    sculpt = fill = base = pockets = verdict = ""

    def __init__(self, job: Job, keep: Path | None) -> None:
        if keep is not None:
            self._work_out(job)

    def _work_out(self, job: Job) -> None:
        given = attrs.asdict(job.sculpt) | {"file": Path(job.sculpt.file).suffix.lower()}
        try:
            with job.sculpt_path.open("rb") as file:
                content = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError:  # reading the sculpt will say what is wrong
            content = secrets.token_hex()
        tables = [attrs.asdict(table) for table in (job.sheet, job.pull, job.draft, job.fit)]
        base = {k: v for k, v in attrs.asdict(job.base).items() if k not in _NOT_IN_THE_BLANK}
        self.sculpt = _hash(_library(), content, given, tables, job.base.sink_mm)
        self.fill = _hash(self.sculpt, attrs.asdict(job.fill))
        self.base = _hash(self.fill, base, job.vents.channel_depth_mm)
        self.pockets = _hash(self.base, job.vents.min_pocket_mm)
        self.verdict = _hash(self.base, attrs.asdict(job.forecast))


class Store:
    """Keeps the results of stages in a folder; without one it works everything out."""

    def __init__(self, folder: Path | None, clock: Clock) -> None:
        self._folder, self._clock = folder, clock

    def recall[Result](self, stage: str, key: str, work: Callable[[], Result]) -> Result:
        """The kept result of a stage, or else that of `work`, which is then kept."""
        if self._folder is None:
            return work()
        path = self._folder / f"{stage.replace(' ', '_')}-{key[:32]}.npz"
        if path.exists():
            name = f"{stage} (kept)"
            with self._clock.step(name):
                found, kept = _read(path, key)
            if found:
                with suppress(OSError):
                    os.utime(path)
                return kept  # type: ignore[no-any-return]
            del self._clock.times_s[name]
        result = work()
        _write(path, key, result)
        self._forget(stage)
        return result

    def _forget(self, stage: str) -> None:
        """Drop all but the last used results of a stage."""
        assert self._folder is not None
        with suppress(OSError):
            entries = sorted(
                self._folder.glob(f"{stage.replace(' ', '_')}-*.npz"),
                key=lambda path: path.stat().st_mtime_ns,
            )
            for path in entries[:-KEPT]:
                path.unlink()


def _read(path: Path, key: str) -> tuple[bool, Any]:
    """Whether a whole and fitting entry is there, and what it holds."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
            label = json.loads(held["label"].tobytes())
            if label["key"] != key:
                return False, None
            loaded: dict[int, NDArray[Any]] = {}

            def array(number: int) -> NDArray[Any]:
                if number not in loaded:
                    loaded[number] = held[f"array_{number}"]
                return loaded[number]

            return True, unpacked(label["tree"], array, _RECORDS)
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile, MemoryError):
        return False, None


def _write(path: Path, key: str, result: object) -> None:
    """Keep a result; a store that cannot be written is no reason to stop."""
    packer = Packer(_RECORDS, left_out=(Columns, Manifold))
    label = json.dumps({"key": key, "tree": packer.packed(result)}).encode()
    arrays = {f"array_{n}": array for n, array in enumerate(packer.arrays)}
    waiting = path.with_name(f".{path.name}.{os.getpid()}.{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with waiting.open("xb") as file:
            np.savez(file, label=np.frombuffer(label, np.uint8), **arrays, allow_pickle=False)
        waiting.replace(path)
    except OSError:
        with suppress(OSError):
            waiting.unlink(missing_ok=True)


def _hash(*parts: Any) -> str:
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


@cache
def _library() -> list[Any]:
    """The version, and size and time of every source: another state of the library keeps its own results."""
    root = Path(__file__).resolve().parents[1]
    files = sorted(path for kind in ("*.py", "*.toml") for path in root.rglob(kind))
    states = [(path, path.stat()) for path in files]
    return [__version__, [[str(path), state.st_size, state.st_mtime_ns] for path, state in states]]
