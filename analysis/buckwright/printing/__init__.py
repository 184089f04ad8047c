"""The buck as a print: pieces that fit the printer, and whether it survives the pull."""
