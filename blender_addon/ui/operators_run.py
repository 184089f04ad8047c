"""The operators that run the child: look, make, forecast. Export is in a file of its own."""

import bpy

from ..scene import running
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
    BUCKWRIGHT_OT_stop,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
