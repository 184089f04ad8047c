"""Makes an operator of a run of the child: `RunOperator` is its base.

With a window it is modal (a timer asks ten times a second, Esc stops), in the background or from a script it
waits and returns.
"""

import time
from typing import Any

import bpy

from ..scene import running, snapshot, write_results
from ..scene.running import Result, Stopped, Work
from ..scene.snapshot import Refused
from ..view import live_draft
from ..view.viewports import redraw

__all__ = ["RunOperator"]

_TICK_S = 0.1


class RunOperator:
    """What operators that run the child have in common; they say which `command` it is given."""

    command = ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Whether a run can begin; says why not in the tooltip."""
        going = running.now() is not None
        words = "A run is in progress: wait for it, or press Esc" if going else snapshot.why_not(context)
        if words:
            cls.poll_message_set(words)  # type: ignore[attr-defined]
        return not words

    def use(self, context: bpy.types.Context, result: Result) -> str:
        """Write the result into the scene; what to tell the user."""
        assert context.scene is not None
        return write_results.write(context.scene, result)

    def collected(self, context: bpy.types.Context, work: Any) -> Any:
        """What the run brought."""
        return work.result(context)

    def begin(self, context: bpy.types.Context) -> Work:
        """Start the run; a sculpt without colours gets those that take no time."""
        work = Work(context, self.command)
        live_draft.measure_first(context)
        return work

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Run, wait and return."""
        try:
            work = self.begin(context)
        except Refused as error:
            return self._refuse(str(error))
        try:
            while not work.poll():
                time.sleep(0.02)
        except BaseException:
            work.close()
            raise
        return self._finish(context, work)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        """Start, and go on while the window stays live."""
        manager = context.window_manager
        if bpy.app.background or context.window is None or manager is None:
            return self.execute(context)
        try:
            self._work = self.begin(context)
        except Refused as error:
            return self._refuse(str(error))
        self._shown = ("", -1)
        self._timer = manager.event_timer_add(_TICK_S, window=context.window)
        manager.modal_handler_add(self)  # type: ignore[arg-type]
        redraw()
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Follow the child; Esc stops it."""
        if running.now() is not self._work:  # the extension was switched off, or the work stopped elsewhere
            self._leave(context)
            return {"CANCELLED"}
        if event.type == "ESC" and event.value == "PRESS":
            self._work.stop()
            redraw()
            return {"RUNNING_MODAL"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if self._work.poll():
            self._leave(context)
            done = self._finish(context, self._work)
            redraw()
            return done
        shown = (self._work.step, int(100 * self._work.whole))
        if shown != self._shown:
            self._shown = shown
            if context.workspace is not None:
                context.workspace.status_text_set(
                    f"{self._work.title}, {shown[1]} %: {shown[0]}   |   Esc: Stop"
                )
            redraw()
        return {"PASS_THROUGH"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender closes, or another file is opened."""
        work: Work | None = getattr(self, "_work", None)
        if work is not None:  # else a file browser was left
            work.close()
            self._leave(context)

    def _leave(self, context: bpy.types.Context) -> None:
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        if context.window_manager is not None:
            context.window_manager.event_timer_remove(self._timer)

    def _finish(self, context: bpy.types.Context, work: Work) -> set[str]:
        words = ""
        try:
            told = self.use(context, self.collected(context, work))
        except Stopped:
            self.report({"INFO"}, "Stopped; nothing was changed")  # type: ignore[attr-defined]
            return {"CANCELLED"}
        except Refused as error:
            words = str(error)
            return self._refuse(words)
        finally:
            work.close(words)
        self.report({"INFO"}, told)  # type: ignore[attr-defined]
        return {"FINISHED"}

    def _refuse(self, words: str) -> set[str]:
        running.fail(words)
        self.report({"ERROR"}, words)  # type: ignore[attr-defined]
        return {"CANCELLED"}
