"""The operator that opens the job sheet of the buck in the browser."""

import bpy

from ..scene import edited_buck, exports, results, running
from ..scene.kept_folder import kept_folder
from ..scene.running import Result, Work
from .run_operator import RunOperator

__all__ = ["register", "unregister"]

_FOLDER, _NAME = "job_sheets", "job_sheet.html"


class BUCKWRIGHT_OT_job_sheet(RunOperator, bpy.types.Operator):
    """Make the buck with the current settings, and open its job sheet in the browser: pictures, a 3-D view, measures, steps to tick"""  # noqa: E501

    bl_idname = "buckwright.job_sheet"
    bl_label = "Open Job Sheet"
    bl_options = {"UNDO"}
    command = "make"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """As any run; of a buck that was edited by hand nothing is known that a sheet could say."""
        if context.scene is not None and running.now() is None and edited_buck.is_edited(context.scene):
            cls.poll_message_set("The buck was edited by hand: make it again for a job sheet")
            return False
        return super().poll(context)

    def begin(self, context: bpy.types.Context) -> Work:
        """Start to make the buck anew, with its files in a folder of the extension's own."""
        return Work(context, self.command, kept_folder(_FOLDER), prefix=exports.prefix(context))

    def use(self, context: bpy.types.Context, result: Result) -> str:
        """Write the buck into the scene as well, and open the page."""
        super().use(context, result)
        assert context.scene is not None
        page = kept_folder(_FOLDER) / f"{exports.prefix(context)}{_NAME}"
        results.of(context.scene).job_sheet = str(page)
        if not bpy.app.background:
            bpy.ops.wm.url_open(url=page.as_uri())
        return f"The job sheet is {page}"


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_job_sheet,))
