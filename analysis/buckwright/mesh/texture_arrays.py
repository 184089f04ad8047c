"""What texture coordinates in a snapshot are called; imports nothing heavy, for programs that write one."""

__all__ = ["TEXTURE_ARRAYS"]

TEXTURE_ARRAYS = ("corner_u", "corner_v")
"""Arrays (F, 3): where each corner of each triangle lies in the picture, from 0 to 1."""
