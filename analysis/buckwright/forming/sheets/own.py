"""The user's own sheets: a file of theirs beside the library's table, read in the same way."""

from collections.abc import Mapping
from typing import Any

from buckwright.forming.sheets.table import SheetMaterial, load_sheets, plain_name, sheets_from
from buckwright.own_files import OwnFile, OwnTable

__all__ = ["ENVIRONMENT", "EXAMPLE", "hint", "known_sheets", "own_path", "own_sheets", "own_text"]

ENVIRONMENT = "BUCKWRIGHT_SHEETS"
"""Names another file of own sheets; empty for none."""

EXAMPLE = """\
# Sheets of your own: one table for each. Figures that you leave out are those of the sheet under `like`.
# mark is "read", "second-hand", "measured", "from memory" or "common practice, no source".

[WORKSHOP_PETG]
title = "PETG of the corner shop, 1 mm"
like = "PETG"
shrinkage = { low = 0.004, high = 0.005, source = "two masks, measured across the brow", mark = "measured" }
forming_normal_c = { low = 140, high = 150, source = "the maker's data sheet", mark = "read" }
"""


def _handed_down(parent: SheetMaterial) -> Mapping[str, Any]:
    return {key: value for key, value in parent.to_dict().items() if key != "name"}


_FILE = OwnFile(name="sheets.toml", environment=ENVIRONMENT, what="sheets")
_TABLE = OwnTable(
    file=_FILE,
    one="sheet",
    example="WORKSHOP_PETG",
    library=load_sheets,
    read=sheets_from,
    plain=plain_name,
    handed_down=_handed_down,
)

own_path = _FILE.path
"""Where own sheets are looked for; see `OwnFile.path`."""
own_text = _FILE.text
"""Content of that file, which every result hangs on; see `OwnFile.text`."""
own_sheets = _TABLE.own
"""The user's own sheets by name; see `OwnTable.own`."""
known_sheets = _TABLE.known
"""The library's sheets and the user's own; see `OwnTable.known`."""
hint = _TABLE.hint
"""Where own sheets stand, or what is wrong with them; see `OwnTable.hint`."""
