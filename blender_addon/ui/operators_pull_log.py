"""The operators of the log of pulls: note one, and read what all of them say."""

from typing import Any, ClassVar

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ..bridge.library import PullRecord, Setting, settings_of
from ..scene import pull_log
from ..scene.snapshot import Refused
from .run_operator import RunOperator

__all__ = ["register", "unregister"]

_FIRST = (
    "heat_s",
    "sag_s",
    "sag_mm",
    "carry_s",
    "stiff_s",
    "fill",
    "web",
    "chill",
    "trapped",
    "stuck",
    "next",
)
"""What most makers note; the rest stands below."""
_RECORD = settings_of(PullRecord)


def _annotations() -> dict[str, Any]:
    """A property for each entry of a record; figures are typed as text, so that empty is not noted."""
    more = BoolProperty(name="More", description="Show everything that can be noted")
    made: dict[str, Any] = {"more": more}
    for key, setting in _RECORD.items():
        words = {"name": _heading(setting), "description": setting.tip, "options": {"SKIP_SAVE"}}
        if setting.kind == "choice":
            items = [("NONE", "Not Noted", ""), *((k, *v) for k, v in setting.words.items())]
            made[key] = EnumProperty(items=items, **words)  # type: ignore[arg-type]
        else:
            made[key] = StringProperty(**words)  # type: ignore[arg-type]
    return made


def _heading(setting: Setting) -> str:
    return f"{setting.label} ({setting.unit})" if setting.unit else setting.label


class BUCKWRIGHT_OT_note_pull(bpy.types.Operator):
    """Write down how a pull was made and what came of it, in the log beside the file"""

    bl_idname = "buckwright.note_pull"
    bl_label = "Note a Pull"
    bl_options: ClassVar = {"REGISTER"}

    __annotations__ = _annotations()

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only in a saved file."""
        return _can(cls, context)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        """Ask for what is to be noted."""
        assert context.window_manager is not None
        return set(context.window_manager.invoke_props_dialog(self, width=420, confirm_text="Note"))

    def draw(self, _context: bpy.types.Context) -> None:
        """What most note first, then the rest."""
        layout = self.layout
        assert layout is not None
        layout.use_property_split = True
        for key in _FIRST:
            layout.prop(self, key)
        layout.prop(self, "more")
        for key in (one for one in _RECORD if one not in _FIRST and self.more):
            layout.prop(self, key)

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the record, then ask what the log says now."""
        try:
            number = pull_log.note(context, self._values())
        except (Refused, ValueError) as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        self.report({"INFO"}, f"Noted as pull {number} in {pull_log.path_of(context)}")
        if not bpy.app.background:
            bpy.ops.buckwright.read_log("INVOKE_DEFAULT")  # type: ignore[attr-defined]
        return {"FINISHED"}

    def _values(self) -> dict[str, Any]:
        """What was noted, by key.

        Raises
        ------
        ValueError
            A figure is no number; in words.
        """
        values = {}
        for key, setting in _RECORD.items():
            text = str(getattr(self, key)).strip()
            if text and text != "NONE":
                values[key] = _number(text, setting) if setting.kind == "number" else text
        return values


def _number(text: str, setting: Setting) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError as error:
        raise ValueError(f"{setting.label} must be a number, got {text!r}") from error


class BUCKWRIGHT_OT_read_log(RunOperator, bpy.types.Operator):
    """Read the log of pulls beside the file: the best so far, what heater and sheet are really like, what to change next"""  # noqa: E501

    bl_idname = "buckwright.read_log"
    bl_label = "Read the Log"
    bl_options: ClassVar = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only in a saved file."""
        return _can(cls, context)

    def begin(self, context: bpy.types.Context) -> pull_log.LogWork:
        """Start to read."""
        return pull_log.LogWork(context)

    def use(self, context: bpy.types.Context, result: Any) -> str:
        """Keep what it says for the panel."""
        assert context.scene is not None
        pull_log.keep(context.scene, result)
        return str(result["next"])


def _can(operator: Any, context: bpy.types.Context) -> bool:
    words = pull_log.why_not(context)
    if words:
        operator.poll_message_set(words)
    return not words


_CLASSES = (BUCKWRIGHT_OT_note_pull, BUCKWRIGHT_OT_read_log)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
