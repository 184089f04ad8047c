"""The operators that change the scene at once: markers, outline, pull, mode, results."""

from typing import Any

import bpy
import numpy as np
from mathutils import Vector

from ..scene import results, running, write_results
from ..scene.pull import offered, set_pull
from .polls import NeedsResults

__all__ = ["register", "unregister"]


class BUCKWRIGHT_OT_object_mode(bpy.types.Operator):
    """Leave the current mode, so that the sculpt can be used"""

    bl_idname = "buckwright.object_mode"
    bl_label = "Go to Object Mode"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.mode != "OBJECT" and bpy.ops.object.mode_set.poll()

    def execute(self, _context: bpy.types.Context) -> set[str]:
        """Go to Object Mode."""
        bpy.ops.object.mode_set(mode="OBJECT")
        return {"FINISHED"}


class BUCKWRIGHT_OT_vents_by_rule(NeedsResults, bpy.types.Operator):
    """Discard the vents that were set by hand; the next buck gets automatic ones"""

    bl_idname = "buckwright.vents_by_rule"
    bl_label = "Automatic Vents"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Take the markers away."""
        assert context.scene is not None
        write_results.forget_vents(context.scene)
        return {"FINISHED"}


class BUCKWRIGHT_OT_blocks_by_rule(NeedsResults, bpy.types.Operator):
    """Discard the take-up blocks that were set by hand; for the next buck they are sought"""

    bl_idname = "buckwright.blocks_by_rule"
    bl_label = "Automatic Blocks"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Take the markers away."""
        assert context.scene is not None
        write_results.forget_blocks(context.scene)
        return {"FINISHED"}


class BUCKWRIGHT_OT_outline_by_rule(NeedsResults, bpy.types.Operator):
    """Discard the outline that was drawn by hand; the next buck gets an automatic one"""

    bl_idname = "buckwright.outline_by_rule"
    bl_label = "Automatic Outline"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Take the curve away."""
        assert context.scene is not None
        write_results.forget_outline(context.scene)
        return {"FINISHED"}


class BUCKWRIGHT_OT_planes_by_rule(NeedsResults, bpy.types.Operator):
    """Discard split planes that were moved by hand; the next buck is split automatically"""

    bl_idname = "buckwright.planes_by_rule"
    bl_label = "Automatic Split Planes"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Take the planes away."""
        assert context.scene is not None
        write_results.forget_planes(context.scene)
        return {"FINISHED"}


class BUCKWRIGHT_OT_keep_pull(bpy.types.Operator):
    """Use the pull that was found, or that of the setup taken, from now on, and search no more"""

    bl_idname = "buckwright.keep_pull"
    bl_label = "Use This Pull"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        found = context.scene is not None and results.pull(context.scene) is not None
        if not found:
            cls.poll_message_set("Look at the sculpt first")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the direction into the settings."""
        assert context.scene is not None
        found = offered(context.scene)
        assert found is not None
        set_pull(context.scene, found)
        return {"FINISHED"}


class BUCKWRIGHT_OT_pull_from_view(bpy.types.Operator):
    """Pull towards the viewer: use the direction from which the viewport is seen"""

    bl_idname = "buckwright.pull_from_view"
    bl_label = "Pull Towards View"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.region_data is not None

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the direction into the settings."""
        view: Any = context.region_data
        assert context.scene is not None
        set_pull(context.scene, np.array(view.view_rotation @ Vector((0.0, 0.0, 1.0)), np.float64))
        return {"FINISHED"}


class BUCKWRIGHT_OT_remove_results(bpy.types.Operator):
    """Remove the buck, its markers and lines, and all findings; the sculpt stays"""

    bl_idname = "buckwright.remove_results"
    bl_label = "Remove Results"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if running.now() is not None:
            cls.poll_message_set("A run is in progress: wait for it, or press Esc")
            return False
        kept = None if context.scene is None else results.of(context.scene)
        return kept is not None and (kept.made != "NONE" or len(kept.planes) > 0)

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Remove them."""
        assert context.scene is not None
        write_results.remove(context.scene)
        return {"FINISHED"}


_CLASSES = (
    BUCKWRIGHT_OT_object_mode,
    BUCKWRIGHT_OT_vents_by_rule,
    BUCKWRIGHT_OT_blocks_by_rule,
    BUCKWRIGHT_OT_outline_by_rule,
    BUCKWRIGHT_OT_planes_by_rule,
    BUCKWRIGHT_OT_keep_pull,
    BUCKWRIGHT_OT_pull_from_view,
    BUCKWRIGHT_OT_remove_results,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
