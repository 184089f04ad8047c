"""Where a sheet from above traps air."""
