"""The 3D viewports of the windows: which is at hand, which is under the mouse; all drawn again."""

import bpy

__all__ = ["redraw", "viewport", "viewport_under"]


def redraw() -> None:
    """Ask all 3D viewports to draw again."""
    for manager in bpy.data.window_managers:
        for window in manager.windows:
            for area in window.screen.areas:
                if area.type == "VIEW_3D":
                    area.tag_redraw()


def viewport(context: bpy.types.Context) -> bpy.types.Area | None:
    """The 3D viewport at hand: that of the context, else the largest of the window."""
    if context.area is not None and context.area.type == "VIEW_3D":
        return context.area
    window = context.window
    areas = [area for area in window.screen.areas if area.type == "VIEW_3D"] if window is not None else []
    return max(areas, key=lambda area: area.width * area.height, default=None)


def viewport_under(context: bpy.types.Context, x: int, y: int) -> bpy.types.Region | None:
    """The viewport under the mouse, unless a sidebar or header lies over it."""
    for area in context.window.screen.areas:  # type: ignore[union-attr]
        if area.type != "VIEW_3D":
            continue
        under = [r for r in area.regions if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height]
        if under and all(region.type == "WINDOW" for region in under):
            return under[0]
    return None
