"""What the rules gave for settings that were left out, as the last run of a scene reported it."""

from typing import Any

import bpy

from . import results
from .fields import Field

__all__ = ["of_report", "value", "words"]

_SHORT = 8
"""Letters of a rule that has room beside its switch: 'no limit'."""


def value(scene: bpy.types.Scene, field: Field) -> Any:
    """What a setting followed to in the last run; None where that run did not tell."""
    return results.facts(scene).get("automatic", {}).get(f"{field.table}.{field.key}")


def words(scene: bpy.types.Scene, field: Field) -> str:
    """What a setting that is left out shows: 'Auto: 4.2 mm'; or a short rule, or 'Automatic'."""
    is_size = field.table == "sculpt"
    told = value(scene, field)
    if told is not None:
        return f"{'As is' if is_size else 'Auto'}: {field.told(told)}"
    rule = field.setting.automatic
    if is_size or len(rule) > _SHORT:
        return "Original" if is_size else "Automatic"
    return f"Auto: {rule}"


def of_report(scene: bpy.types.Scene, report: dict[str, Any], *, same: bool) -> dict[str, Any]:
    """Values by 'table.key' that a new report leaves known.

    Parameters
    ----------
    same : whether it is of the sculpt and the job of the last one, whose values then still hold: a look after
        a make tells less
    """
    before: dict[str, Any] = results.facts(scene).get("automatic", {}) if same else {}
    return before | report.get("automatic", {})
