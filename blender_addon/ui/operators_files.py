"""The operators that read and write files: jobs and presets."""

from pathlib import Path
from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty
from bpy_extras.io_utils import ExportHelper, ImportHelper

from ..scene import body, job_file, presets, snapshot
from ..scene.fields import field_of
from ..scene.snapshot import Refused

__all__ = ["register", "unregister"]


def _holds(kind: presets.Kind) -> str:
    """What a kind of preset holds, for its tip."""
    keys = presets.KINDS[kind]
    labels = [field_of(*key).setting.label for key in keys or ()]
    return ", ".join(labels) or "All settings but the job details and the size of the sculpt"


_KINDS = tuple((kind, kind.title(), _holds(kind)) for kind in presets.KINDS)


class _Told:
    """Turns refusals into reports."""

    def do(self, context: bpy.types.Context) -> str:
        """Do the work; what to tell the user."""
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Do the work, or say why not."""
        try:
            words = self.do(context)
        except Refused as error:
            self.report({"ERROR"}, str(error))  # type: ignore[attr-defined]
            return {"CANCELLED"}
        self.report({"INFO"}, words)  # type: ignore[attr-defined]
        return {"FINISHED"}


class BUCKWRIGHT_OT_save_job(_Told, bpy.types.Operator, ExportHelper):
    """Save the settings as a job file, with the sculpt and its body beside it"""

    bl_idname = "buckwright.save_job"
    bl_label = "Save Job"
    filename_ext = ".toml"
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})  # type: ignore[valid-type]
    with_sculpt: BoolProperty(  # type: ignore[valid-type]
        name="With Sculpt",
        description="Save the sculpt, and a body that is picked, beside the job file, which then names them",
        default=True,
    )

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Any:
        """Start from the name job.toml."""
        if not self.filepath:
            self.filepath = (
                str(Path(bpy.data.filepath).parent / "job.toml") if bpy.data.filepath else "job.toml"
            )
        return ExportHelper.invoke(self, context, event)

    def do(self, context: bpy.types.Context) -> str:
        """Write the files."""
        assert context.scene is not None
        path, sculpt, over = Path(bpy.path.abspath(self.filepath)), None, None
        if self.with_sculpt:
            if words := snapshot.why_not(context):
                raise Refused(words)
            sculpt = snapshot.take(context, snapshot.chosen(context))
            over = body.take(context)
        job_file.save_job(context.scene, path, sculpt, over)
        return f"Saved {path.name}"


class BUCKWRIGHT_OT_open_job(_Told, bpy.types.Operator, ImportHelper):
    """Load the settings of a job file; objects of the scene are used instead of the sculpt that it names"""

    bl_idname = "buckwright.open_job"
    bl_label = "Open Job"
    bl_options = {"UNDO"}
    filename_ext = ".toml"
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})  # type: ignore[valid-type]

    def do(self, context: bpy.types.Context) -> str:
        """Read the file."""
        assert context.scene is not None
        path = Path(bpy.path.abspath(self.filepath))
        job_file.open_job(context.scene, path)
        return f"Loaded the settings of {path.name}"


class BUCKWRIGHT_OT_save_preset(_Told, bpy.types.Operator):
    """Save these settings under a name, for other scenes"""

    bl_idname = "buckwright.save_preset"
    bl_label = "Save Preset"
    kind: EnumProperty(items=_KINDS, name="Kind", description="What the preset holds")  # type: ignore[valid-type]
    name: StringProperty(name="Name", description="Name of the preset")  # type: ignore[valid-type]

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        """Ask for the name."""
        return context.window_manager.invoke_props_dialog(self) if context.window_manager else {"CANCELLED"}

    def do(self, context: bpy.types.Context) -> str:
        """Write the preset."""
        assert context.scene is not None
        presets.save_preset(context.scene, self.kind, self.name)
        return f"Saved the preset '{self.name}'"


class BUCKWRIGHT_OT_load_preset(_Told, bpy.types.Operator):
    """Load the settings of this preset"""

    bl_idname = "buckwright.load_preset"
    bl_label = "Load Preset"
    bl_options = {"REGISTER", "UNDO"}
    kind: EnumProperty(items=_KINDS, name="Kind", description="What the preset holds")  # type: ignore[valid-type]
    name: StringProperty(name="Name", description="Name of the preset")  # type: ignore[valid-type]

    def do(self, context: bpy.types.Context) -> str:
        """Read the preset."""
        assert context.scene is not None
        presets.load_preset(context.scene, self.kind, self.name)
        return f"Loaded the preset '{self.name}'"


class BUCKWRIGHT_OT_remove_preset(_Told, bpy.types.Operator):
    """Delete this preset"""

    bl_idname = "buckwright.remove_preset"
    bl_label = "Delete Preset"
    kind: EnumProperty(items=_KINDS, name="Kind", description="What the preset holds")  # type: ignore[valid-type]
    name: StringProperty(name="Name", description="Name of the preset")  # type: ignore[valid-type]

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Any:
        """Ask first."""
        manager = context.window_manager
        return manager.invoke_confirm(self, event) if manager is not None else {"CANCELLED"}

    def do(self, _context: bpy.types.Context) -> str:
        """Delete the file."""
        presets.remove_preset(self.kind, self.name)
        return f"Deleted the preset '{self.name}'"


_CLASSES = (
    BUCKWRIGHT_OT_save_job,
    BUCKWRIGHT_OT_open_job,
    BUCKWRIGHT_OT_save_preset,
    BUCKWRIGHT_OT_load_preset,
    BUCKWRIGHT_OT_remove_preset,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
