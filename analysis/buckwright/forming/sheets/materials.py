"""Sheets by name: the library's and the user's own."""

import difflib

from buckwright.errors import JobError
from buckwright.forming.sheets.own import hint, known_sheets
from buckwright.forming.sheets.table import SheetMaterial, plain_name

__all__ = ["sheet"]


def sheet(name: str) -> SheetMaterial:
    """Look up one material, of the library or of the user's own; case, hyphens and spaces do not matter.

    Parameters
    ----------
    name : key of the table

    Returns
    -------
    SheetMaterial

    Raises
    ------
    JobError
        No such material; the message lists the names and the nearest one.

    Examples
    --------
    >>> sheet(" hips ").name
    'HIPS'
    """
    sheets, key = known_sheets(), plain_name(name)
    if key in sheets:
        return sheets[key]
    near = difflib.get_close_matches(key, sheets, n=1, cutoff=0.5)
    meant = f" Did you mean {near[0]}?" if near else ""
    raise JobError(f"no sheet is called '{name}'.{meant} Known: {', '.join(sheets)}. {hint()}")
