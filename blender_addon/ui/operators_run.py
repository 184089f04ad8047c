"""The operators that run the child: look, make, forecast. Export is in a file of its own."""

import bpy
from bpy.props import BoolProperty

from ..scene import halves, results, running, snapshot
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


class BUCKWRIGHT_OT_halve(RunOperator, bpy.types.Operator):
    """Part a sculpt that locks into two, for a buck each; an empty gives the plane, across its Z"""

    bl_idname = "buckwright.halve"
    bl_label = "Halve Sculpt"
    bl_options = {"UNDO"}
    command = "halves"

    again: BoolProperty(  # type: ignore[valid-type]
        name="The Same Sculpt", description="Halve what was halved last, whatever is selected", default=False
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """As any run; what was halved last can be halved again whatever is selected: its plane, above all."""
        known = context.scene is not None and len(results.of(context.scene).halved) > 0
        return (known and running.now() is None and context.mode == "OBJECT") or super().poll(context)

    def begin(self, context: bpy.types.Context) -> running.Work:
        """Take the plane of an empty, and start."""
        if self.again and context.scene is not None:
            halves.select_again(context.scene)
        empty = halves.plane_by_hand(context)
        if empty is not None and context.scene is not None:
            halves.take_plane(context.scene, empty, snapshot.chosen(context))
        return super().begin(context)

    def use(self, context: bpy.types.Context, result: running.Result) -> str:
        """Write the halves into the scene; what to tell the user."""
        assert context.scene is not None
        return halves.write(context.scene, result)


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
    BUCKWRIGHT_OT_halve,
    BUCKWRIGHT_OT_stop,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
