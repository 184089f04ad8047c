"""Halving: planes that part a sculpt so that each half comes off, in place of much fill."""
