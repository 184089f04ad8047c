"""The Buckwright extension: survey a sculpt, make its buck and export it without leaving Blender."""

import importlib

MODULES = (
    "scene.settings",
    "scene.results",
    "scene.staleness",
    "scene.edited_buck",
    "scene.running",
    "view.view_settings",
    "view.overlay",
    "view.sheet_colours",
    "view.go_to_place",
    "view.live_draft",
    "view.gizmo",
    "view.spot_signs",
    "view.pull_sign",
    "ui.operators_view",
    "ui.operators_findings",
    "ui.panel_setups",
    "ui.panel_tune",
    "ui.panel_planes",
    "ui.operators_run",
    "ui.operator_export",
    "ui.operators_forecast",
    "ui.operators_heat",
    "ui.operator_job_sheet",
    "ui.operators_pull_log",
    "ui.operators_edit",
    "ui.operator_add_vent",
    "ui.operator_add_block",
    "ui.operator_add_hole",
    "ui.operators_size",
    "ui.operators_files",
    "ui.panels",
    "ui.panels_of_settings",
    "ui.menus",
    "ui.keymap",
    "ui.preferences",
)
"""In the order of registration; each has `register()` and `unregister()`."""


def register() -> None:
    """Register every module; if one fails, those before it are taken back."""
    done = []
    try:
        for name in MODULES:
            module = importlib.import_module(f".{name}", __package__)
            module.register()
            done.append(module)
    except BaseException:
        for module in reversed(done):
            module.unregister()
        raise


def unregister() -> None:
    """Take everything back, last first."""
    for name in reversed(MODULES):
        importlib.import_module(f".{name}", __package__).unregister()
