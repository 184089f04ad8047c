"""Settings of the check of details."""

import attrs

from buckwright.settings import number

__all__ = ["DetailSettings"]


@attrs.frozen(kw_only=True)
class DetailSettings:
    """Detail: what is too fine for the sheet. It is told, and nothing of the buck is changed for it."""

    stroke_mm: float | None = number(
        None,
        low=0,
        high=50,
        unit="mm",
        label="Narrowest Stroke",
        tip="Grooves narrower than this are told, as the sheet closes over them; 0 for no check",
        automatic="twice the sheet's thickness",
        start=1.5,
        preset="sheet",
    )
    edge_radius_mm: float = number(
        0.0,
        low=0,
        high=50,
        unit="mm",
        label="Least Edge Radius",
        tip="Edges and ribs of the part that are sharper than this are told; 0 for no check",
    )
