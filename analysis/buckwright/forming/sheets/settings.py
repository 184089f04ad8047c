"""Settings of the sheet that will be formed."""

import tomllib
from pathlib import Path

import attrs

from buckwright.settings import choice, number

__all__ = ["SheetSettings"]

SHEETS = Path(__file__).with_name("sheets.toml")
_ROWS = tomllib.loads(SHEETS.read_text(encoding="utf-8"))
_WORDS = {name: (name.replace("_", "/"), row["title"]) for name, row in _ROWS.items()}


@attrs.frozen(kw_only=True)
class SheetSettings:
    """Sheet: the plastic that will be formed."""

    material: str = choice(
        "HIPS", _WORDS, label="Material", tip="Plastic that will be formed", front=True, preset="sheet"
    )
    thickness_mm: float = number(
        0.75,
        low=0.05,
        high=10,
        unit="mm",
        label="Thickness",
        tip="Thickness of the flat sheet before it is heated",
        front=True,
        preset="sheet",
    )
