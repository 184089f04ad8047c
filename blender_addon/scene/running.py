"""Work in progress: a snapshot goes out to the child, its progress is kept for the panels, results come back.

One run at a time; the operator that began it asks for news and puts the result into the scene.
"""

import atexit
import contextlib
import json
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.app.handlers import persistent
from numpy.typing import NDArray

from ..bridge.library import FINISHED, BuckwrightError, job_from, write_job
from ..bridge.worker import Worker, missing_parts
from . import body, handlers, job_tables, room_on_disk, run_folders, snapshot, store_folder, visibility
from .child import child_environment, child_python, for_child
from .plain_words import sentence
from .snapshot import Refused, Snapshot
from .whole_progress import WholeProgress

__all__ = [
    "Result",
    "Stopped",
    "Work",
    "fail",
    "hold",
    "now",
    "register",
    "trouble",
    "unregister",
]

_TITLES = {
    "look": "Looking",
    "make": "Making",
    "forecast": "Forecasting",
    "halves": "Halving",
    FINISHED: "Exporting",
}

_now: "Work | None" = None
_trouble = ""


class Stopped(Exception):  # noqa: N818  (the user's wish, no fault)
    """The user stopped the work."""


@dataclass(frozen=True, slots=True, eq=False)
class Result:
    """What came back.

    Attributes
    ----------
    command : what was done
    arrays : those of the library's stages
    report : the tree of report.json
    releases : whether the part releases
    sculpt : the snapshot that it belongs to
    objects : session numbers of the objects of the snapshot
    job : text of the job file
    stamp, texture : of the sculpt, see `snapshot.stamp`, without and with its UV map; that is empty where no
        picture is laid by it
    times_s : seconds by part of the way
    """

    command: str
    arrays: dict[str, NDArray[Any]]
    report: dict[str, Any]
    releases: bool
    sculpt: Snapshot
    objects: tuple[int, ...]
    job: str
    stamp: str
    texture: str
    times_s: dict[str, float]


def now() -> "Work | None":
    """The work in progress."""
    return _now


def trouble() -> str:
    """Why the last run came to nothing, in words; empty after a good one."""
    return _trouble


def hold(work: "Work") -> None:
    """Make a run the one in progress."""
    _set(work, "")


def fail(words: str) -> None:
    """Keep why a run could not begin, unless another one is in progress."""
    if _now is None:
        _set(None, words)


def _set(work: "Work | None", words: str | None = None) -> None:
    global _now, _trouble  # noqa: PLW0603  (one run at a time is the point)
    _now = work
    if words is not None:
        _trouble = words


class Work:
    """One run of the child.

    Attributes
    ----------
    command : one of the library's commands
    title : what the run is, a word or two
    step : what is being done
    """

    def __init__(
        self,
        context: bpy.types.Context,
        command: str,
        out: Path | None = None,
        *,
        prefix: str = "",
        given: Snapshot | None = None,
    ) -> None:
        """Take the sculpt and start.

        Parameters
        ----------
        out : folder for files that people want
        prefix : what their names begin with
        given : a finished buck that stands for the sculpt

        Raises
        ------
        Refused
            In words: nothing can be done as things stand.
        """
        assert context.scene is not None
        if _now is not None:
            raise Refused("Another run is in progress: wait for it, or stop it with Esc")
        if missing := missing_parts():
            raise Refused(
                f"The extension is incomplete ({', '.join(missing)} missing): "
                "remove it and install it again from its zip"
            )
        self.command = command
        self.title = "Exporting" if out is not None else _TITLES[command]
        self.step = "Copying the sculpt"
        self._progress = WholeProgress(command, pictures=out is not None)
        self._scene = context.scene.session_uid
        self._times: dict[str, float] = {}
        self._begun = time.perf_counter()
        objects, self._sculpt = _taken(context) if given is None else ([], given)
        self._body = body.take(context) if given is None else None
        self._objects = tuple(one.session_uid for one in objects)
        self._clock("snapshot")
        self._has_room(out)
        self._folder = run_folders.make()
        try:
            self._job = self._written(context.scene)
            self._worker = Worker(
                self._request(out, prefix),
                self._folder,
                python=child_python(),
                environment=child_environment(),
            )
        except OSError as error:
            self._remove()
            raise Refused(f"The run cannot be started: {_because(error)}") from error
        except BaseException:
            self._remove()
            raise
        # The child loads its libraries meanwhile.
        with visibility.shown(context.scene):
            self._stamp, _ = body.stamp(context, objects)
            laid = self._sculpt.uv is not None
            self._texture = snapshot.stamp(context, objects, texture=True)[0] if laid else ""
        self._marks = self._marked(context.scene)
        self._clock("start")
        self._last: dict[str, Any] = {}
        _set(self, "")

    def _has_room(self, out: Path | None) -> None:
        run, store = Path(bpy.app.tempdir), store_folder.place(create=True)
        if words := room_on_disk.why_not(len(self._sculpt.faces), run=run, store=store, out=out):
            raise Refused(words)

    def _written(self, scene: bpy.types.Scene) -> str:
        """Write job and sculpt into the folder; the text of the job."""
        name = self._sculpt.file_name()
        self._sculpt.save(self._folder / name)
        over = ""
        if self._body is not None:
            over = f"body_{self._body.file_name()}"
            self._body.save(self._folder / over)
        try:
            text = write_job(job_from(job_tables.of(scene, sculpt=name, body=over)))
        except BuckwrightError as error:
            raise Refused(sentence(str(error))) from error
        (self._folder / "job.toml").write_text(text, encoding="utf-8")
        return text

    def _request(self, out: Path | None, prefix: str) -> dict[str, Any]:
        return {
            "command": self.command,
            "job": str(self._folder / "job.toml"),
            "out": None if out is None else str(out),
            "results": str(self._folder / "results"),
            "keep": for_child(store_folder.place(create=True)),
            "pictures": out is not None,
            "prefix": prefix,
        }

    def poll(self) -> bool:
        """Read what the child says; whether it has ended."""
        gone = self._worker.ended()
        for message in self._worker.messages():
            if message.get("kind") == "step":
                name = str(message["name"])
                self.step = name[:1].upper() + name[1:]
                self._progress.tell(name, float(message["share"]))
            else:
                self._last = message
        return gone

    @property
    def whole(self) -> float:
        """How much of the whole run is done, 0..1; never less than before."""
        return self._progress.share

    def stop(self) -> None:
        """Ask the child to stop."""
        self.step = "Stopping"
        self._worker.stop()

    def process_id(self) -> int:
        """Number of the child process."""
        return self._worker.process_id()

    def result(self, context: bpy.types.Context) -> Result:
        """What the child brought, once it has ended.

        Raises
        ------
        Refused
            It failed, or the sculpt changed meanwhile; in words.
        Stopped
            It was stopped.
        """
        self._clock("compute")
        self._must_be_done()
        if self.command == FINISHED:
            return self._result({}, {})
        self._same_sculpt(context)
        return self._read()

    def _must_be_done(self) -> None:
        kind = self._last.get("kind")
        if kind == "done":
            return
        if self._worker.stopping or kind == "stopped":
            raise Stopped
        if kind == "failed":
            words = (
                str(self._last.get("words", ""))
                .replace(f"{self._folder}/", "")
                .replace(str(self._folder), "")
            )
            raise Refused(sentence(words))
        raise Refused(self._worker.last_words())

    def _same_sculpt(self, context: bpy.types.Context) -> None:
        scene = context.scene
        if scene is None or scene.session_uid != self._scene:
            raise Refused("Another scene is shown now: go back to the scene of the sculpt and run again")
        by_number = {one.session_uid: one for one in scene.objects}
        found = [by_number.get(number) for number in self._objects]
        objects = [one for one in found if one is not None]
        if len(objects) < len(found):
            raise Refused("The sculpt was deleted meanwhile: nothing was changed")
        again = "The sculpt changed meanwhile, so the result was not used: run again"
        if any(one.mode != "OBJECT" for one in objects):
            raise Refused(f"{again}, in Object Mode")
        try:
            with visibility.shown(scene):
                if body.stamp(context, objects)[0] != self._stamp:
                    raise Refused(again)
                if self._texture and snapshot.stamp(context, objects, texture=True)[0] != self._texture:
                    raise Refused("The UV map changed meanwhile, so the result was not used: run again")
        finally:
            self._clock("compare")
        if self.command == "make" and self._marks != self._marked(scene):
            raise Refused(
                "Vents, blocks, outline or planes were changed meanwhile and would be replaced: run again"
            )

    @staticmethod
    def _marked(scene: bpy.types.Scene) -> tuple[Any, ...]:
        """The marks on the buck that a new buck replaces."""
        of = (job_tables.vents_at_mm, job_tables.blocks_at_mm, job_tables.outline_mm, job_tables.planes_mm)
        return tuple(marks(scene) for marks in of)

    def _read(self) -> Result:
        try:
            with np.load(self._last["arrays"], allow_pickle=False) as kept:
                arrays = {name: kept[name] for name in kept.files if name != "allow_pickle"}
            report = json.loads(Path(self._last["report"]).read_text(encoding="utf-8"))
        except (OSError, ValueError, KeyError) as error:
            raise Refused(f"The result cannot be read: {_because(error)}") from error
        self._clock("read")
        return self._result(arrays, report)

    def _result(self, arrays: dict[str, NDArray[Any]], report: dict[str, Any]) -> Result:
        return Result(
            command=self.command,
            arrays=arrays,
            report=report,
            releases=bool(self._last.get("releases")),
            sculpt=self._sculpt,
            objects=self._objects,
            job=self._job,
            stamp=self._stamp,
            texture=self._texture,
            times_s=self._times,
        )

    def close(self, words: str = "") -> None:
        """End the child if it still runs, remove the folder; `words` tell what went wrong."""
        self._worker.close()
        self._remove()
        if _now is self:
            _set(None, words)

    def _remove(self) -> None:
        shutil.rmtree(self._folder, ignore_errors=True)

    def _clock(self, name: str) -> None:
        moment = time.perf_counter()
        self._times[name] = moment - self._begun
        self._begun = moment


def _taken(context: bpy.types.Context) -> tuple[list[bpy.types.Object], Snapshot]:
    """The objects of the sculpt, and what is seen of them."""
    assert context.scene is not None
    if words := snapshot.why_not(context):
        raise Refused(words)
    objects = snapshot.chosen(context)
    with visibility.shown(context.scene):
        if words := snapshot.why_not(context):  # hidden in another way too
            raise Refused(words)
        return objects, snapshot.take(context, objects, texture=job_tables.wants_texture(context.scene))


def _because(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.strerror} ({error.filename})" if error.filename else error.strerror
    return str(error)


@persistent
def _leaving(*_args: object) -> None:
    """Another file is opened, or Blender closes: what runs is ended, and its folder goes."""
    if _now is not None:
        with contextlib.suppress(OSError):
            _now.close()


@persistent
def _opened(*_args: object) -> None:
    """Another file has no trouble yet."""
    _set(_now, "")


_HANDLERS = (("load_pre", _leaving), ("load_post", _opened), ("exit_pre", _leaving))


def register() -> None:
    """Nothing runs yet."""
    _set(None, "")
    run_folders.sweep()
    handlers.listen(_HANDLERS)
    atexit.register(_leaving)


def unregister() -> None:
    """End what still runs."""
    atexit.unregister(_leaving)
    handlers.ignore(_HANDLERS)
    _leaving()
