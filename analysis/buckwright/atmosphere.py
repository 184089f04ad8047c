"""The air outside."""

__all__ = ["ATMOSPHERE_PA"]

ATMOSPHERE_PA = 101_325.0
"""Standard atmosphere, by definition (ISO 2533)."""
