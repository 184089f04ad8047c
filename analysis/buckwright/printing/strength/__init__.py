"""Whether the print survives the pull: pressure on its skin, heat from the sheet."""
