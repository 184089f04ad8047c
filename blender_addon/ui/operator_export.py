"""The operator that writes files for the printer, called after the job; it asks before it replaces any."""

from pathlib import Path

import bpy
from bpy.props import BoolProperty, StringProperty

from ..bridge.library import FINISHED
from ..scene import edited_buck, exports, results, running
from ..scene.running import Result, Work
from .paragraphs import paragraph
from .run_operator import RunOperator

__all__ = ["register", "unregister"]


class BUCKWRIGHT_OT_export(RunOperator, bpy.types.Operator):
    """Make the buck with the current settings, and export it as STL and 3MF with report, maps and pictures; a buck that was edited by hand is checked and exported as it is"""  # noqa: E501

    bl_idname = "buckwright.export"
    bl_label = "Export Buck"  # short enough for the button of the file browser
    bl_options = {"UNDO"}
    command = "make"

    directory: StringProperty(  # type: ignore[valid-type]
        name="Folder",
        description="Folder for the files, which are in millimeters",
        subtype="DIR_PATH",
        options={"SKIP_SAVE"},  # else a second press would not ask again
    )
    replace: BoolProperty(  # type: ignore[valid-type]
        name="Replace Files",
        description="Write files of an earlier export anew without asking",
        options={"HIDDEN", "SKIP_SAVE"},
    )
    filter_folder: BoolProperty(default=True, options={"HIDDEN"})  # type: ignore[valid-type]
    _from_browser = _from_question = False

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """As any run; but an edited buck needs no sculpt."""
        free = context.scene is not None and running.now() is None
        return (free and edited_buck.is_edited(context.scene)) or super().poll(context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Ask for the folder, then whether to replace files; a window is never blocked meanwhile."""
        if context.window_manager is None or bpy.app.background:
            return self.execute(context)
        if not self.directory:
            self._from_browser = True
            context.window_manager.fileselect_add(self)  # runs `execute` when a folder is chosen
            return {"RUNNING_MODAL"}
        if not self.replace and (there := exports.would_replace(context, self._folder())):
            self._from_question = True
            return set(
                context.window_manager.invoke_confirm(  # runs `execute` when it is confirmed
                    self,
                    event,
                    title="Replace Files?",
                    message=_there_words(there),
                    confirm_text="Replace",
                    icon="WARNING",
                )
            )
        return super().invoke(context, event)

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the files; after a question in a window, go on in another call that does not block it."""
        if not self.directory:
            self.report({"ERROR"}, "Choose a folder for the files")
            return {"CANCELLED"}
        if (self._from_browser or self._from_question) and context.window is not None:
            bpy.ops.buckwright.export(  # type: ignore[attr-defined]
                "INVOKE_DEFAULT", directory=self.directory, replace=self.replace or self._from_question
            )
            return {"FINISHED"}
        if not self.replace and (there := exports.would_replace(context, self._folder())):
            self.report({"ERROR"}, f"{_there_words(there)} Choose another folder, or replace them")
            return {"CANCELLED"}
        return super().execute(context)

    def begin(self, context: bpy.types.Context) -> Work:
        """Start to make the buck anew; or to check and write the one that was edited."""
        assert context.scene is not None
        prefix = exports.prefix(context)
        if not edited_buck.is_edited(context.scene):
            return Work(context, self.command, self._folder(), prefix=prefix)
        given = edited_buck.take(context, exports.title(context))
        return Work(context, FINISHED, self._folder(), prefix=prefix, given=given)

    def use(self, context: bpy.types.Context, result: Result) -> str:
        """Write the buck into the scene as well, so that it shows what the files hold."""
        if result.command == FINISHED:
            return f"Exported the edited buck, without a report, to {self._folder()}"
        super().use(context, result)
        return f"Exported the buck and its report to {self._folder()}"

    def draw(self, context: bpy.types.Context) -> None:
        """Beside the folders: what the files will hold, and its size."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        if edited_buck.is_edited(scene):
            paragraph(layout, "STL and 3MF in millimeters of the buck as it was edited", context)
            return
        paragraph(layout, "STL and 3MF in millimeters, report, maps and pictures", context)
        for line in results.facts(scene).get("lines", ()):
            paragraph(layout, line, context)

    def _folder(self) -> Path:
        return Path(bpy.path.abspath(self.directory))


def _there_words(there: list[str]) -> str:
    if len(there) == 1:
        return f"{there[0]} is there already."
    return f"{there[0]} and {len(there) - 1} more are there already."


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_export,))
