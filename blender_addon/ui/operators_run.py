"""The operators that run the child: look, make, forecast, export."""

from pathlib import Path

import bpy
from bpy.props import StringProperty

from ..scene import results, running, write_results
from ..scene.running import Result
from .paragraphs import paragraph
from .run_operator import RunOperator

__all__ = ["register", "unregister"]


class BUCKWRIGHT_OT_look(RunOperator, bpy.types.Operator):
    """Measure draft and undercuts on every face of the selected sculpt, and list what would trap the part"""

    bl_idname = "buckwright.look"
    bl_label = "Look at Sculpt"
    bl_options = {"UNDO"}
    command = "look"


class BUCKWRIGHT_OT_make(RunOperator, bpy.types.Operator):
    """Make the buck of the selected sculpt: fill, base and vents, as new objects beside it"""

    bl_idname = "buckwright.make"
    bl_label = "Make Buck"
    bl_options = {"UNDO"}
    command = "make"


class BUCKWRIGHT_OT_forecast(RunOperator, bpy.types.Operator):
    """Forecast how the hot sheet forms over the buck: where it thins, webs and traps air"""

    bl_idname = "buckwright.forecast"
    bl_label = "Forecast Sheet"
    bl_options = {"UNDO"}
    command = "forecast"


class BUCKWRIGHT_OT_export(RunOperator, bpy.types.Operator):
    """Make the buck with the current settings, and export it as STL and 3MF with report, maps and pictures"""

    bl_idname = "buckwright.export"
    bl_label = "Export Buck"  # short enough for the button of the file browser
    bl_options = {"UNDO"}
    command = "make"

    directory: StringProperty(  # type: ignore[valid-type]
        name="Folder", description="Folder for the files, which are in millimeters", subtype="DIR_PATH"
    )
    filter_folder: bpy.props.BoolProperty(default=True, options={"HIDDEN"})  # type: ignore[valid-type]
    _chosen = False

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Ask for the folder; the file browser then runs `execute`, which goes on without blocking."""
        if self.directory or context.window_manager is None or bpy.app.background:
            return super().invoke(context, event)
        self._chosen = True
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the files."""
        if not self.directory:
            self.report({"ERROR"}, "Choose a folder for the files")
            return {"CANCELLED"}
        if self._chosen and not bpy.app.background and context.window is not None:
            self._chosen = False
            bpy.ops.buckwright.export("INVOKE_DEFAULT", directory=self.directory)  # type: ignore[attr-defined]
            return {"FINISHED"}
        return super().execute(context)

    def draw(self, context: bpy.types.Context) -> None:
        """Beside the folders: what the files will hold, and its size."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        paragraph(layout, "STL and 3MF in millimeters, report, maps and pictures", context)
        for line in results.facts(scene).get("lines", ()):
            paragraph(layout, line, context)

    def out(self) -> Path:
        """Folder for the files."""
        return Path(bpy.path.abspath(self.directory))

    def use(self, context: bpy.types.Context, result: Result) -> str:
        """Write the buck into the scene as well, so that it shows what the files hold."""
        super().use(context, result)
        return write_results.exported(self.out())


class BUCKWRIGHT_OT_stop(bpy.types.Operator):
    """Stop the run; nothing of it is kept"""

    bl_idname = "buckwright.stop"
    bl_label = "Stop"

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        if running.now() is None:
            cls.poll_message_set("Nothing is running")
        return running.now() is not None

    def execute(self, _context: bpy.types.Context) -> set[str]:
        """Ask the child to stop."""
        work = running.now()
        if work is not None:
            work.stop()
        return {"FINISHED"}


_CLASSES = (
    BUCKWRIGHT_OT_look,
    BUCKWRIGHT_OT_make,
    BUCKWRIGHT_OT_forecast,
    BUCKWRIGHT_OT_export,
    BUCKWRIGHT_OT_stop,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
