"""Numbers as the scene shows them. This module must not import Blender."""

__all__ = ["angle_words", "length_words"]

_PER_MM = {
    "CENTIMETERS": (0.1, "cm"),
    "MILLIMETERS": (1.0, "mm"),
    "MICROMETERS": (1e3, "µm"),
    "INCHES": (1.0 / 25.4, "in"),
    "THOU": (1000.0 / 25.4, "thou"),
}
"""Exact by definition of the inch (25.4 mm)."""
_USUAL = {"METRIC": "MILLIMETERS", "IMPERIAL": "INCHES", "NONE": "MILLIMETERS"}


def length_words(length_mm: float, *, system: str, unit: str, digits: int = 3) -> str:
    """A length in the unit of a scene, `digits` digits that count.

    Parameters
    ----------
    system : METRIC, IMPERIAL or NONE, as in the scene's unit settings
    unit : the scene's unit of length; those that are too large for sheets and drafts (metres, which is merely
        Blender's default, feet, and beyond) and ADAPTIVE give millimetres or inches
    """
    factor, name = _PER_MM.get(unit if system != "NONE" else "", _PER_MM[_USUAL.get(system, "MILLIMETERS")])
    return f"{_plain(length_mm * factor, digits)} {name}"


def angle_words(angle_deg: float, *, digits: int = 3) -> str:
    """An angle in degrees."""
    return f"{_plain(angle_deg, digits)}°"


def _plain(value: float, digits: int) -> str:
    """Without exponent and trailing zeros, and with a true minus."""
    text = f"{float(f'{value:.{digits}g}'):.9f}".rstrip("0").rstrip(".")
    return text.replace("-", "−") if float(text) else "0"
