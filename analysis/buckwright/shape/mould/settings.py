"""Settings of the mould's form."""

from typing import Literal

import attrs

from buckwright.settings import choice, number

__all__ = ["MouldSettings"]


@attrs.frozen(kw_only=True)
class MouldSettings:
    """Mould: whether the sheet drapes over the sculpt or is drawn into a cavity of its shape."""

    form: Literal["male", "female"] = choice(
        "male",
        {
            "male": ("Male", "A buck: the sheet drapes over it, and the inside of the part is crisp"),
            "female": (
                "Female",
                "A block with a cavity: the sheet is drawn into it, and the outside of the part is crisp",
            ),
        },
        label="Form",
        tip="Which way round the mould is made of the sculpt",
    )
    floor_mm: float | None = number(
        None,
        low=3,
        high=500,
        unit="mm",
        label="Floor",
        tip="Thickness of a female mould under the deepest place of its cavity",
        automatic="the depth, the channels underneath and what the sheet does not reach",
        start=8.0,
    )
