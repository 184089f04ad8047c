"""Setups: which way the part is pulled and how deep the sculpt is sunk, and what each choice costs."""
