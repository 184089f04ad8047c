"""Settings of the templates."""

from typing import Literal

import attrs

from buckwright.settings import choice, number, switch

__all__ = ["TemplateSettings"]


@attrs.frozen(kw_only=True)
class TemplateSettings:
    """Templates: drawings at 1:1 for blank, frame, board and edge."""

    enabled: bool = switch(True, label="Templates", tip="Draw templates at 1:1 as DXF, SVG and PDF")
    page: Literal["A4", "Letter"] = choice(
        "A4",
        {"A4": ("A4", "210 x 297 mm"), "Letter": ("Letter", "8.5 x 11 inches")},
        label="Paper",
        tip="Paper that the PDF is cut into",
    )
    edge_strip_mm: float = number(
        20.0,
        low=4,
        high=200,
        unit="mm",
        label="Edge Strip",
        tip="Width of the strip that is folded over the trimmed edge",
    )
