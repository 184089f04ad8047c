"""The panel of the forecast. `panels.py` gives it its place among the others."""

from typing import Any

import bpy

from ..scene import forecast_markers, formed_sheet, results
from ..view import view_settings
from .panel_parts import PlacesList, Tab, buttons, run_button
from .panels_of_settings import draw_field
from .paragraphs import paragraph

__all__ = ["BUCKWRIGHT_PT_formed", "BUCKWRIGHT_UL_spots"]

_ICONS = {"WEAKEST": "TRIA_DOWN_BAR", "WEB": "SHARPCURVE", "POCKET": "META_BALL"}


class BUCKWRIGHT_UL_spots(PlacesList, bpy.types.UIList):
    """Places of the forecast sheet: the weakest spot, webs, pockets of air"""

    operator = "buckwright.show_spot"

    def draw_place(self, row: bpy.types.UILayout, item: Any) -> None:
        """What is there."""
        row.label(text=item.words, icon=_ICONS[item.kind])


class BUCKWRIGHT_PT_formed(Tab, bpy.types.Panel):
    """How the hot sheet forms over the buck"""

    bl_label = "Sheet"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        draw_field(layout, scene, "forecast", "quality")
        run_button(layout, "buckwright.forecast", "MOD_CLOTH")
        kept = results.of(scene)
        if not kept.sheet:
            return
        paragraph(layout, f"{kept.sheet}.", context)
        layout.template_list("BUCKWRIGHT_UL_spots", "", kept, "spots", kept, "spot_index", rows=3)
        if 0 <= kept.spot_index < len(kept.spots) and (more := kept.spots[kept.spot_index].more):
            paragraph(layout, f"{more}.", context)
        for one in results.objects(scene, "SHEET")[:1]:
            row = buttons(layout, context)
            row.operator("buckwright.show_sheet", text="Show Sheet" if one.hide_get() else "Hide Sheet")
            thick = formed_sheet.is_thick(one)
            row.operator("buckwright.thicken_sheet", text="Hide Thickness" if thick else "Show Thickness")
            column = layout.column()
            column.use_property_split = False
            column.active = one.hide_get()
            column.prop(view_settings.of(scene), "sheet_through")
            seen = forecast_markers.are_seen(scene)
            layout.operator("buckwright.mark_spots", text="Hide Markers" if seen else "Show Markers")
