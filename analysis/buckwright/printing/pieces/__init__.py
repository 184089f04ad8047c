"""Pieces that fit the printer, their joints, and the plates they are printed on."""
