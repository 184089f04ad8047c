"""The Buckwright extension: see, shape and send out a buck without leaving Blender."""

import importlib

MODULES = (
    "settings",
    "results",
    "staleness",
    "running",
    "view_settings",
    "overlay",
    "readout",
    "live_draft",
    "gizmo",
    "view_panel",
    "operators_run",
    "operators_sheet",
    "operators_edit",
    "operators_files",
    "panels",
    "panels_settings",
    "menus",
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
