"""Several bucks on one platen: spacing, edge, the number that fits, one base board."""
