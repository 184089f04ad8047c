"""Settings of the sheet that will be formed."""

import attrs

from buckwright.forming.sheets.own import hint, known_sheets
from buckwright.settings import choice, number

__all__ = ["SheetSettings"]

_WORDS = {name: (name.replace("_", "/"), one.title) for name, one in known_sheets().items()}


@attrs.frozen(kw_only=True)
class SheetSettings:
    """Sheet: the plastic that will be formed."""

    material: str = choice(
        "HIPS",
        _WORDS,
        label="Material",
        tip="Plastic that will be formed",
        front=True,
        preset="sheet",
        more=hint,
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
