"""The operators of the view: buck or sculpt, draft alone, values under the mouse, places in the lists."""

from typing import Any, ClassVar

import bpy
from bpy.props import IntProperty

from ..scene import results, visibility, workshop
from ..view import go_to_place, live_draft, overlay, readout
from ..view.plate import Plate, style
from ..view.viewports import redraw, viewport_under

__all__ = ["register", "unregister"]

_CLOSES = {"ESC", "RIGHTMOUSE"}


class BUCKWRIGHT_OT_show_buck(bpy.types.Operator):
    """Show the buck with its vents and lines, or the colored sculpt, which is in the same place"""

    bl_idname = "buckwright.show_buck"
    bl_label = "Show Buck or Sculpt"
    bl_options: ClassVar = {"UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with a buck, or with a sculpt whose buck was deleted."""
        scene = context.scene
        found = scene is not None and bool(
            results.objects(scene, "BUCK") or any(entry.aside for entry in results.of(scene).sculpts)
        )
        if not found:
            cls.poll_message_set("Make a buck first")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Show the one that is not seen."""
        scene = context.scene
        assert scene is not None
        if visibility.buck_is_seen(scene) or not results.objects(scene, "BUCK"):
            visibility.show_sculpt(scene)
        else:
            visibility.show_buck(scene)
        return {"FINISHED"}


class BUCKWRIGHT_OT_show_pieces(bpy.types.Operator):
    """Show the pieces that the buck is printed in, or the whole buck"""

    bl_idname = "buckwright.show_pieces"
    bl_label = "Show Pieces or Buck"
    bl_options: ClassVar = {"UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with a buck in pieces."""
        found = context.scene is not None and bool(results.objects(context.scene, "PIECE"))
        if not found:
            cls.poll_message_set("Give the printer's bed, and make a buck that is larger")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Show what is not seen."""
        scene = context.scene
        assert scene is not None
        (visibility.show_buck if visibility.pieces_are_seen(scene) else visibility.show_pieces)(scene)
        return {"FINISHED"}


class BUCKWRIGHT_OT_show_workshop(bpy.types.Operator):
    """Show or hide what stands round the buck: platen, openings, frame, blank and further bucks"""

    bl_idname = "buckwright.show_workshop"
    bl_label = "Show or Hide Workshop"
    bl_options: ClassVar = {"UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with a buck that it belongs to."""
        scene = context.scene
        found = scene is not None and any(results.objects(scene, role) for role in workshop.ROLES)
        if not found:
            cls.poll_message_set("Make the buck first: frame and blank follow from it")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Show what is not seen."""
        assert context.scene is not None
        workshop.show(context.scene, seen=not workshop.are_seen(context.scene))
        return {"FINISHED"}


class BUCKWRIGHT_OT_live_draft(bpy.types.Operator):
    """Measure and color the draft of the active object as it is now; a look finds overhangs too"""

    bl_idname = "buckwright.live_draft"
    bl_label = "Measure Draft Only"
    bl_options: ClassVar = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Where the shape can be read."""
        words = live_draft.why_not(context.object)
        if words:
            cls.poll_message_set(words)
        return not words

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Measure."""
        obj = context.object
        assert obj is not None
        one = live_draft.measure(context, obj)
        if not len(one.faces.faces):
            self.report({"ERROR"}, f"{obj.name} has no faces")
            return {"CANCELLED"}
        free, tight, trapped = (f"{100 * share:.1f} %" for share in one.shares)
        self.report({"INFO"}, f"Draft only: free {free}, tight {tight}, undercut {trapped}")
        return {"FINISHED"}


class BUCKWRIGHT_OT_read_values(bpy.types.Operator):
    """Show the values of the face under the mouse, until Esc or a right click"""

    bl_idname = "buckwright.read_values"
    bl_label = "Read Values"
    bl_options: ClassVar = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where colours are shown."""
        if context.scene is None or overlay.shown(context.scene) is None:
            cls.poll_message_set("Look at a sculpt first, and show its colors")
            return False
        return context.area is not None and context.area.type == "VIEW_3D"

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Begin to read."""
        one = overlay.shown(context.scene)  # type: ignore[arg-type]
        assert one is not None
        self.faces = one.faces
        self.finder = readout.Finder(one.faces.vertices, one.faces.faces)
        self.at, self.lines, self.region = (0.0, 0.0), [], 0
        draw = bpy.types.SpaceView3D.draw_handler_add
        self.handle = draw(self._draw, (), "WINDOW", "POST_PIXEL")
        context.window_manager.modal_handler_add(self)  # type: ignore[union-attr]
        context.workspace.status_text_set("Values under the mouse   |   Esc or right click: end")  # type: ignore[union-attr]
        self._look(context, event)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Read where the mouse is; everything but the end passes through."""
        one = overlay.shown(context.scene) if context.scene else None
        if event.type in _CLOSES or one is None or one.faces is not self.faces:
            self.cancel(context)
            return {"CANCELLED"}
        if event.type == "MOUSEMOVE":
            self._look(context, event)
        return {"PASS_THROUGH"}

    def cancel(self, context: bpy.types.Context) -> None:
        """End: also when a file is opened or Blender quits."""
        if self.handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self.handle, "WINDOW")
            self.handle = None
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        redraw()

    def _look(self, context: bpy.types.Context, event: bpy.types.Event) -> None:
        self.lines = []
        region = viewport_under(context, event.mouse_x, event.mouse_y)
        one = overlay.shown(context.scene)  # type: ignore[arg-type]
        if region is not None and one is not None:
            self.at = (event.mouse_x - region.x, event.mouse_y - region.y)
            self.region = region.as_pointer()
            place = readout.place_under(context, region, self.at)
            face = -1 if place is None else readout.face_at(context.scene, one, self.finder, place)  # type: ignore[arg-type]
            if face >= 0:
                self.lines = readout.words_at(context.scene, one, face)  # type: ignore[arg-type]
        redraw()

    def _draw(self) -> None:
        context = bpy.context
        if not self.lines or context.region is None or context.region.as_pointer() != self.region:
            return
        plate = Plate(style(context))
        for line in self.lines:
            plate.words(line)
        wide, high = plate.size()
        gap = 18 * plate.look.unit
        x = min(self.at[0] + gap, context.region.width - wide - gap)
        y = self.at[1] - high - gap
        plate.draw(max(x, 0.0), y if y > gap else self.at[1] + gap)


class _GoTo:
    """Takes the view to a place in a list of the results.

    Attributes
    ----------
    places, chosen : names of the list, and of the number of its chosen row
    """

    places, chosen = "", ""

    def go(self, context: bpy.types.Context) -> None:
        """Take the view to the chosen one."""
        raise NotImplementedError

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with a place in the list."""
        return context.scene is not None and len(getattr(results.of(context.scene), cls.places)) > 0

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Turn the view of the viewport at hand."""
        assert context.scene is not None
        kept = results.of(context.scene)
        if self.index >= 0:
            setattr(kept, self.chosen, min(self.index, len(getattr(kept, self.places)) - 1))
        self.go(context)
        return {"FINISHED"}


class BUCKWRIGHT_OT_show_region(_GoTo, bpy.types.Operator):
    """Go to a trapped region in the viewport"""

    bl_idname = "buckwright.show_region"
    bl_label = "Go to Trapped Region"
    places, chosen = "regions", "region_index"

    index: IntProperty(name="Region", description="Place in the list", default=-1, min=-1)  # type: ignore[valid-type]

    def go(self, context: bpy.types.Context) -> None:
        """Take the view to the region."""
        go_to_place.show_region(context)


class BUCKWRIGHT_OT_show_spot(_GoTo, bpy.types.Operator):
    """Go to a marker of the forecast in the viewport: the weakest spot, a web or a pocket of air"""

    bl_idname = "buckwright.show_spot"
    bl_label = "Go to Forecast Marker"
    places, chosen = "spots", "spot_index"

    index: IntProperty(name="Place", description="Place in the list", default=-1, min=-1)  # type: ignore[valid-type]

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        """What is there."""
        assert context.scene is not None
        spots = results.of(context.scene).spots
        if not 0 <= properties.index < len(spots):
            return ""
        spot = spots[properties.index]
        return f"Go to this place: {spot.words}{'; ' if spot.more else ''}{spot.more}"

    def go(self, context: bpy.types.Context) -> None:
        """Take the view to the place."""
        go_to_place.show_spot(context)


_CLASSES = (
    BUCKWRIGHT_OT_show_buck,
    BUCKWRIGHT_OT_show_pieces,
    BUCKWRIGHT_OT_show_workshop,
    BUCKWRIGHT_OT_live_draft,
    BUCKWRIGHT_OT_read_values,
    BUCKWRIGHT_OT_show_region,
    BUCKWRIGHT_OT_show_spot,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
